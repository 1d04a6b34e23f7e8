//! A drawn page as PDF: lines and areas only. Words become outlines, so no font goes into the file.

use std::fmt::Write as _;
use std::io::Write as _;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use resvg::tiny_skia::{Color, PathSegment, Point, Transform};
use resvg::usvg::{FillRule, Group, LineCap, LineJoin, Node, Paint, Path, Stroke, Tree};

use crate::offline::plot::png;

/// A PDF, and what the user should know.
#[derive(Debug)]
pub struct Pdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Sentences.
    pub notices: Vec<String>,
}

/// Prints an SVG on one page of its size in points.
///
/// # Errors
/// One sentence if there is no font at all, or the page cannot be read.
pub fn pdf(svg: &str) -> Result<Pdf, String> {
    let (tree, notices) = png::tree(svg)?;
    let mut content = String::new();
    // PDF counts upwards from the lower edge (ISO 32000-1, 8.3.2).
    content += &format!("1 0 0 -1 0 {} cm\n", tree.size().height());
    group(&mut content, tree.root());
    Ok(Pdf { bytes: file(&tree, &content)?, notices })
}

/// The objects of a file with one page (ISO 32000-1, 7.5).
fn file(tree: &Tree, content: &str) -> Result<Vec<u8>, String> {
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::default());
    let packed = packer.write_all(content.as_bytes()).and_then(|()| packer.finish());
    let packed = packed.map_err(|error| error.to_string())?;
    let (width, height) = (tree.size().width(), tree.size().height());
    let objects = [
        b"<</Type/Catalog/Pages 2 0 R>>".to_vec(),
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>".to_vec(),
        format!("<</Type/Page/Parent 2 0 R/MediaBox[0 0 {width} {height}]/Resources<<>>/Contents 4 0 R>>")
            .into_bytes(),
        [
            format!("<</Length {}/Filter/FlateDecode>>\nstream\n", packed.len()).as_bytes(),
            &packed,
            b"\nendstream",
        ]
        .concat(),
    ];
    let mut bytes = b"%PDF-1.4\n%\xE2\xE3\xCF\xD3\n".to_vec();
    let mut places = Vec::new();
    for (number, object) in (1..).zip(&objects) {
        places.push(bytes.len());
        bytes.extend(format!("{number} 0 obj\n").bytes());
        bytes.extend(object);
        bytes.extend(b"\nendobj\n");
    }
    let table = bytes.len();
    bytes.extend(format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1).bytes());
    for place in places {
        bytes.extend(format!("{place:010} 00000 n \n").bytes());
    }
    let count = objects.len() + 1;
    bytes.extend(
        format!("trailer\n<</Size {count}/Root 1 0 R>>\nstartxref\n{table}\n%%EOF\n").bytes(),
    );
    Ok(bytes)
}

fn group(out: &mut String, group_: &Group) {
    for node in group_.children() {
        match node {
            Node::Group(inner) => group(out, inner),
            Node::Path(it) => path(out, it),
            Node::Text(text) => group(out, text.flattened()),
            Node::Image(_) => {}
        }
    }
}

fn path(out: &mut String, it: &Path) {
    if !it.is_visible() {
        return;
    }
    let fill = it.fill().and_then(|fill| Some((colour(fill.paint())?, fill.rule())));
    let stroke = it.stroke().and_then(|stroke| Some((colour(stroke.paint())?, stroke)));
    if fill.is_none() && stroke.is_none() {
        return;
    }
    out.push_str("q\n");
    let Transform { sx, ky, kx, sy, tx, ty } = it.abs_transform();
    line(out, &[sx, ky, kx, sy, tx, ty], "cm");
    if let Some((colour, _)) = fill {
        line(out, &colour, "rg");
    }
    if let Some((colour, stroke)) = stroke {
        line(out, &colour, "RG");
        pen(out, stroke);
    }
    outline(out, it);
    out.push_str(match (fill.map(|it| it.1), stroke.is_some()) {
        (Some(FillRule::NonZero), true) => "B\n",
        (Some(FillRule::EvenOdd), true) => "B*\n",
        (Some(FillRule::NonZero), false) => "f\n",
        (Some(FillRule::EvenOdd), false) => "f*\n",
        (None, _) => "S\n",
    });
    out.push_str("Q\n");
}

/// Width, ends, corners and dashes of a stroke (ISO 32000-1, 8.4.3).
fn pen(out: &mut String, stroke: &Stroke) {
    line(out, &[stroke.width().get()], "w");
    let cap = match stroke.linecap() {
        LineCap::Butt => 0.0,
        LineCap::Round => 1.0,
        LineCap::Square => 2.0,
    };
    line(out, &[cap], "J");
    let join = match stroke.linejoin() {
        LineJoin::Miter | LineJoin::MiterClip => 0.0,
        LineJoin::Round => 1.0,
        LineJoin::Bevel => 2.0,
    };
    line(out, &[join], "j");
    if let Some(dashes) = stroke.dasharray() {
        let each = dashes.iter().map(f32::to_string).collect::<Vec<_>>().join(" ");
        out.push_str(&format!("[{each}] {} d\n", stroke.dashoffset()));
    }
}

fn outline(out: &mut String, it: &Path) {
    let mut at = Point::zero();
    for segment in it.data().segments() {
        match segment {
            PathSegment::MoveTo(to) => {
                line(out, &[to.x, to.y], "m");
                at = to;
            }
            PathSegment::LineTo(to) => {
                line(out, &[to.x, to.y], "l");
                at = to;
            }
            PathSegment::QuadTo(by, to) => {
                // PDF has cubic curves only; this one is the same curve.
                let third = |end: f32, by: f32| end + (by - end) * 2.0 / 3.0;
                let (x1, y1) = (third(at.x, by.x), third(at.y, by.y));
                let (x2, y2) = (third(to.x, by.x), third(to.y, by.y));
                line(out, &[x1, y1, x2, y2, to.x, to.y], "c");
                at = to;
            }
            PathSegment::CubicTo(one, two, to) => {
                line(out, &[one.x, one.y, two.x, two.y, to.x, to.y], "c");
                at = to;
            }
            PathSegment::Close => out.push_str("h\n"),
        }
    }
}

fn colour(paint: &Paint) -> Option<[f32; 3]> {
    let Paint::Color(it) = paint else { return None };
    let it = Color::from_rgba8(it.red, it.green, it.blue, 255);
    Some([it.red(), it.green(), it.blue()])
}

/// Numbers and an operator.
fn line(out: &mut String, numbers: &[f32], operator: &str) {
    for number in numbers {
        // A string takes everything that is written to it.
        write!(out, "{} ", (number * 1000.0).round() / 1000.0).unwrap_or_default();
    }
    out.push_str(operator);
    out.push('\n');
}
