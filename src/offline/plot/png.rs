//! A drawn picture as PNG, with the fonts that this machine has.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Node, Options, Tree, fontdb};

/// Pixels of a unit, so that small words are sharp.
pub const PIXELS_PER_UNIT: f32 = 2.0;

/// A PNG, and what the user should know.
#[derive(Debug)]
pub struct Png {
    /// The file.
    pub bytes: Vec<u8>,
    /// Sentences.
    pub notices: Vec<String>,
}

/// Paints an SVG.
///
/// # Errors
/// One sentence if there is no font at all, or the picture cannot be painted.
pub fn png(svg: &str) -> Result<Png, String> {
    let (tree, notices) = tree(svg)?;
    let size = tree.size();
    let (width, height) = (size.width() * PIXELS_PER_UNIT, size.height() * PIXELS_PER_UNIT);
    let too_large =
        || format!("a picture of {width:.0} by {height:.0} pixels is too large to paint");
    let mut pixmap = Pixmap::new(width as u32, height as u32).ok_or_else(too_large)?;
    let scale = Transform::from_scale(PIXELS_PER_UNIT, PIXELS_PER_UNIT);
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    let bytes = pixmap.encode_png().map_err(|error| error.to_string())?;
    Ok(Png { bytes, notices })
}

/// The SVG with its words laid out, and a sentence if no font has some of their letters.
///
/// # Errors
/// One sentence.
pub fn tree(svg: &str) -> Result<(Tree, Vec<String>), String> {
    let mut fonts = fontdb::Database::new();
    fonts.load_system_fonts();
    let Some(family) = plainest(&fonts) else {
        return Err(
            "no font is installed here, so a PNG would have no words; write an SVG instead"
                .to_owned(),
        );
    };
    fonts.set_sans_serif_family(family.clone());
    let options = Options { fontdb: Arc::new(fonts), font_family: family, ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(|error| error.to_string())?;
    let mut missing: Vec<char> = Vec::new();
    find_missing(tree.root(), &mut missing);
    let notice = (!missing.is_empty()).then(|| {
        let letters: String = missing.iter().collect();
        format!("no installed font has the letters {letters}; in the picture they are boxes")
    });
    Ok((tree, notice.into_iter().collect()))
}

/// A family for plain words: one whose name says so, else the first there is.
fn plainest(fonts: &fontdb::Database) -> Option<String> {
    let names = || fonts.faces().filter_map(|face| face.families.first()).map(|(name, _)| name);
    let wanted = ["Noto Sans", "DejaVu Sans", "Liberation Sans", "Arial", "Helvetica"];
    let known = wanted.into_iter().find(|wanted| names().any(|name| name == wanted));
    known.map(str::to_owned).or_else(|| names().next().cloned())
}

/// The letters that were laid out without a shape of their own.
fn find_missing(group: &resvg::usvg::Group, missing: &mut Vec<char>) {
    for node in group.children() {
        match node {
            Node::Group(group) => find_missing(group, missing),
            Node::Text(text) => {
                let glyphs = text.layouted().iter().flat_map(|span| &span.positioned_glyphs);
                for glyph in glyphs.filter(|glyph| glyph.id.0 == 0) {
                    for letter in glyph.text.chars().filter(|letter| !letter.is_whitespace()) {
                        if !missing.contains(&letter) {
                            missing.push(letter);
                        }
                    }
                }
            }
            _ => {}
        }
    }
}
