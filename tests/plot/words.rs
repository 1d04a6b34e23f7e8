//! No two words stand on each other, in any size; and every colour can be read on its ground.

use polso::offline::plot::svg::text_width;
use polso::offline::plot::{DARK, LIGHT, PlotTheme};
use roxmltree::Document;

use super::room::{FERRY, Wish, draw, take, wish};

/// A text's box: left, top, right, bottom.
type Box4 = (f64, f64, f64, f64);

/// Boxes by the same measure as the picture's own.
fn guessed(svg: &str) -> Vec<(String, Box4)> {
    let tree = Document::parse(svg).expect("XML");
    let texts = tree.descendants().filter(|node| node.has_tag_name("text"));
    let each = texts.map(|node| {
        let of = |name: &str| {
            node.attribute(name).and_then(|it| it.parse::<f64>().ok()).expect("a number")
        };
        let words = node.text().unwrap_or_default();
        let (x, y, size) = (of("x"), of("y"), of("font-size"));
        let width = text_width(words, size) * 0.9;
        let left = match node.attribute("text-anchor") {
            Some("middle") => x - width / 2.0,
            Some("end") => x - width,
            _ => x,
        };
        (words.to_owned(), (left, y - size * 0.72, left + width, y + size * 0.2))
    });
    each.collect()
}

/// Boxes as a real font lays the words out, if this machine has one.
#[cfg(feature = "png")]
fn measured(svg: &str) -> Vec<(String, Box4)> {
    use resvg::usvg::{Group, Node};
    fn walk(group: &Group, found: &mut Vec<(String, Box4)>) {
        for node in group.children() {
            match node {
                Node::Group(group) => walk(group, found),
                Node::Text(text) => {
                    let it = text.abs_bounding_box();
                    let words: String = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    let sides = [it.left(), it.top(), it.right(), it.bottom()].map(f64::from);
                    // The line's whole height, without the leading above and below the letters.
                    let leading = (sides[3] - sides[1]) * 0.2;
                    found.push((
                        words,
                        (sides[0], sides[1] + leading, sides[2], sides[3] - leading),
                    ));
                }
                _ => {}
            }
        }
    }
    let Ok((tree, _)) = polso::offline::plot::png::tree(svg) else { return Vec::new() };
    let mut found = Vec::new();
    walk(tree.root(), &mut found);
    found
}

fn overlap(a: &Box4, b: &Box4) -> bool {
    a.0 < b.2 - 0.1 && b.0 < a.2 - 0.1 && a.1 < b.3 - 0.1 && b.1 < a.3 - 0.1
}

fn check(what: &str, svg: &str, width: u32) {
    let mut all = vec![guessed(svg)];
    #[cfg(feature = "png")]
    all.push(measured(svg));
    for boxes in all {
        for (place, (words, one)) in boxes.iter().enumerate() {
            assert!(
                one.0 >= 0.0 && one.2 <= f64::from(width) + 1.0,
                "{what}: {words} leaves the page: {one:?}"
            );
            for (others, other) in &boxes[..place] {
                assert!(
                    !overlap(one, other),
                    "{what}: {words} {one:?} stands on {others} {other:?}"
                );
            }
        }
    }
}

const WIDTHS: [u32; 4] = [800, 1200, 1600, 3000];

#[test]
fn no_two_texts_overlap_at_four_sizes() {
    // Fast low notes, wide leaps and refused slides close together.
    let crowd: Vec<_> =
        (0..200_u64).map(|n| (62 + (n * 7 % 27) as u8, 100 * n, 100 * n + 160)).collect();
    let crowd = take(&crowd, &[(0, 127), (5000, 30), (9000, 120)]);
    let long = take(&[(69, 1000, 2000), (72, 30_000_000, 30_002_000)], &[]);
    for width in WIDTHS {
        for name in ["erhu", "dizi-d", "violin"] {
            let of = |take: &'static [u8], bars| draw(&Wish { width, bars, ..wish(take, name) });
            check(&format!("{name}, all, {width}"), &of(FERRY, None), width);
            check(&format!("{name}, bars, {width}"), &of(FERRY, Some("3..6")), width);
            check(
                &format!("{name}, crowd, {width}"),
                &draw(&Wish { width, ..wish(&crowd, name) }),
                width,
            );
            let both = Wish { width, other: Some(&crowd), ..wish(FERRY, name) };
            check(&format!("{name}, two takes, {width}"), &draw(&both), width);
        }
        check(&format!("hours, {width}"), &draw(&Wish { width, ..wish(&long, "erhu") }), width);
    }
}

#[test]
fn names_in_every_script_stand_over_the_picture() {
    let svg = draw(&wish(FERRY, "erhu"));
    assert!(svg.contains("二胡") && svg.contains("эрху"));
    let svg = draw(&wish(FERRY, "dizi-d"));
    assert!(svg.contains("D调笛子") && svg.contains("дицзы"));
}

/// WCAG 2.2, relative luminance.
fn luminance(colour: &str) -> f64 {
    let channel = |place: usize| {
        let value =
            f64::from(u8::from_str_radix(&colour[place..place + 2], 16).expect("a colour")) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { libm::pow((value + 0.055) / 1.055, 2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

#[test]
fn every_line_and_word_stands_out_from_its_ground() {
    // WCAG 2.2, 1.4.3: text has a contrast of at least 4.5:1.
    let check = |name: &str, theme: &PlotTheme| {
        let PlotTheme {
            ground,
            lane,
            ink,
            quiet,
            gesture,
            level,
            vibrato,
            style,
            legato,
            budget,
            tail,
            ..
        } = theme;
        for colour in [ink, quiet, gesture, level, vibrato, style, legato, budget, tail] {
            for below in [ground, lane] {
                let (one, other) = (luminance(colour), luminance(below));
                let contrast = (one.max(other) + 0.05) / (one.min(other) + 0.05);
                assert!(contrast >= 4.5, "{name}: {colour} on {below} has {contrast:.2}");
            }
        }
    };
    check("light", &LIGHT);
    check("dark", &DARK);
}
