//! Writes a picture as SVG: lines, boxes and words, each number no longer than it must be.

use std::fmt::Write;

/// The fonts asked for, most likely first; the last is any that the reader has.
pub const FONTS: &str = "system-ui, Noto Sans, DejaVu Sans, sans-serif";

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// It is centred there.
    Middle,
    /// It ends there.
    End,
}

/// A picture that is being drawn.
#[derive(Debug)]
pub struct Svg {
    out: String,
}

impl Svg {
    /// An empty picture of this size on a ground of one colour.
    pub fn new(width: f64, height: f64, ground: &str, title: &str) -> Svg {
        let mut svg = Svg { out: String::new() };
        let (w, h) = (number(width), number(height));
        svg.line(&format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\" font-family=\"{FONTS}\">"
        ));
        svg.line(&format!("<title>{}</title>", escaped(title)));
        svg.line(&format!("<rect width=\"{w}\" height=\"{h}\" fill=\"{ground}\"/>"));
        svg
    }

    /// Begins a group; `style` is its attributes.
    pub fn open(&mut self, id: &str, style: &str) {
        let space = if style.is_empty() { "" } else { " " };
        self.line(&format!("<g id=\"{id}\"{space}{style}>"));
    }

    /// Ends the group.
    pub fn close(&mut self) {
        self.line("</g>");
    }

    /// A path; nothing if it has no points.
    pub fn path(&mut self, points: &str, style: &str) {
        if !points.is_empty() {
            self.line(&format!("<path d=\"{points}\" {style}/>"));
        }
    }

    /// A box.
    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, style: &str) {
        let (x, y, w, h) = (number(x), number(y), number(width), number(height));
        self.line(&format!("<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" {style}/>"));
    }

    /// A dot.
    pub fn dot(&mut self, x: f64, y: f64, radius: f64, style: &str) {
        let (x, y, r) = (number(x), number(y), number(radius));
        self.line(&format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" {style}/>"));
    }

    /// A line of words; `size` is the height of the letters' body.
    pub fn text(&mut self, x: f64, y: f64, size: f64, anchor: Anchor, style: &str, words: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let (x, y, size) = (number(x), number(y), number(size));
        self.line(&format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor} {style}>{}</text>",
            escaped(words)
        ));
    }

    /// The whole picture.
    pub fn finish(mut self) -> String {
        self.line("</svg>");
        self.out
    }

    fn line(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }
}

/// A number with at most two decimals.
pub fn number(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0;
    if rounded == 0.0 { "0".to_owned() } else { format!("{rounded}") }
}

/// Adds "Mx y" or "Lx y" to a path.
pub fn point(path: &mut String, is_start: bool, x: f64, y: f64) {
    let letter = if is_start { 'M' } else { 'L' };
    // A string takes everything that is written to it.
    write!(path, "{letter}{} {}", number(x), number(y)).unwrap_or_default();
}

/// A little more than the width of a text in common fonts.
pub fn text_width(words: &str, size: f64) -> f64 {
    let each = words.chars().map(|letter| match letter {
        '\u{1100}'.. => 1.05,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 1.0,
        'i' | 'j' | 'l' | '.' | ',' | ':' | ' ' | '\'' | '|' => 0.4,
        _ => 0.66,
    });
    each.sum::<f64>() * size
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Control characters have no place in XML.
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
    out
}
