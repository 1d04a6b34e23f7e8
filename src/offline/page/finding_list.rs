//! The findings in words under the drawn line, by their numbers.

use super::content::PageContent;
use super::paper::{MARGIN, WIDTH};
use crate::offline::plot::svg::{Anchor, Svg, text_width};

const SIZE: f64 = 7.5;
const LEADING: f64 = 10.5;
/// The most lines that the list takes of the page.
const LINES_MAX: usize = 26;
const INDENT: f64 = 18.0;
/// Whole sentences are narrower than their letters' measure allows for.
const PLAIN: f64 = 0.84;

/// A finding's number and its words in lines.
pub(super) type ListedFinding = (Option<usize>, Vec<String>);

/// The findings as far as the page has room.
pub(super) fn lines(content: &PageContent) -> Vec<ListedFinding> {
    let mut entries: Vec<ListedFinding> = Vec::new();
    let mut lines = 0;
    for (place, finding) in content.findings.iter().enumerate() {
        let at = match finding.place.position {
            Some((bar, beat)) => format!("bar {bar}, beat {beat}"),
            None => format!("tick {}", finding.place.tick),
        };
        let words = format!("{at}, {}: {}", finding.hit.severity.name(), finding.hit.sentence);
        let wrapped = wrapped(&words);
        lines += wrapped.len();
        if lines > LINES_MAX {
            let more = content.findings.len() - place;
            entries.push((None, vec![format!("and {more} more, which polso audit lists")]));
            break;
        }
        entries.push((Some(place + 1), wrapped));
    }
    if entries.is_empty() {
        entries.push((None, vec!["Nothing was found that a player could not play.".to_owned()]));
    }
    entries
}

/// How high the list is.
pub(super) fn height(entries: &[ListedFinding]) -> f64 {
    let lines: usize = entries.iter().map(|(_, lines)| lines.len()).sum();
    lines as f64 * LEADING + 6.0
}

/// Draws the list below `top`.
pub(super) fn draw(svg: &mut Svg, entries: &[ListedFinding], top: f64) {
    svg.open("list", "fill=\"#000000\"");
    let mut y = top + SIZE;
    for (number, lines) in entries {
        if let Some(number) = number {
            let style = "class=\"number\" font-weight=\"600\"";
            svg.text(MARGIN + INDENT - 5.0, y, SIZE, Anchor::End, style, &number.to_string());
        }
        for line in lines {
            svg.text(MARGIN + INDENT, y, SIZE, Anchor::Start, "class=\"finding\"", line);
            y += LEADING;
        }
    }
    svg.close();
}

/// Words in lines that fit the page.
fn wrapped(words: &str) -> Vec<String> {
    let room = WIDTH - 2.0 * MARGIN - INDENT;
    let mut lines: Vec<String> = vec![String::new()];
    for word in words.split(' ') {
        let last = lines.len() - 1;
        let longer =
            format!("{}{}{word}", lines[last], if lines[last].is_empty() { "" } else { " " });
        match text_width(&longer, SIZE) * PLAIN <= room || lines[last].is_empty() {
            true => lines[last] = longer,
            false => lines.push(word.to_owned()),
        }
    }
    lines
}
