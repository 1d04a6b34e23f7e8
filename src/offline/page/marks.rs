//! The marks of a row: bows as slurs, bow changes, breaths, open strings, and the findings' numbers.

use super::content::PageContent;
use super::paper::MARGIN;
use super::rows::{ABOVE, PageRow, PageRows, notes_in};
use crate::engine::patch::OpenPolicy;
use crate::offline::plot::svg::{Anchor, Svg, number, text_width};

const NUMBER_SIZE: f64 = 7.5;
/// The box around a finding's number.
const BOX: f64 = 11.0;

/// What the marks mean.
pub(super) fn legend(svg: &mut Svg, content: &PageContent, y: f64) {
    svg.open("legend", "fill=\"none\" stroke=\"#000000\"");
    let mut x = MARGIN;
    let mut entry = |svg: &mut Svg, mark: &dyn Fn(f64, f64) -> String, words: &str| {
        svg.path(&mark(x + 6.0, y - 3.0), "stroke-width=\"0.9\"");
        svg.text(x + 16.0, y, 8.5, Anchor::Start, "fill=\"#000000\" stroke=\"none\"", words);
        x += 26.0 + text_width(words, 8.5);
    };
    if content.is_wind() {
        entry(svg, &breath, "breath");
    } else {
        entry(svg, &bow_change, "new bow");
        entry(svg, &|x, y| slur(x - 6.0, x + 6.0, y + 2.0), "one bow");
        entry(svg, &open_string, "open string");
    }
    entry(svg, &|x, y| frame(x - BOX / 2.0, y - BOX / 2.0, BOX), "look below");
    svg.close();
}

/// Draws the marks of one row.
pub(super) fn draw(svg: &mut Svg, content: &PageContent, rows: &PageRows, row: &PageRow) {
    svg.open("marks", "fill=\"none\" stroke=\"#000000\" stroke-width=\"0.9\"");
    if content.is_wind() {
        breaths(svg, content, row);
    } else {
        bows(svg, content, rows, row);
        open_strings(svg, content, rows, row);
    }
    svg.close();
    numbers(svg, content, rows, row);
}

fn bows(svg: &mut Svg, content: &PageContent, rows: &PageRows, row: &PageRow) {
    let (mut changes, mut slurs) = (String::new(), String::new());
    for span in content.spans.iter().filter(|it| row.meets(it.start_s, it.end_s)) {
        let notes = &content.notes[span.first_note..=span.last_note];
        let inside = notes.iter().filter(|note| row.meets(note.start_s, note.end_s));
        let top = inside.map(|note| rows.y(row, note.key)).fold(f64::INFINITY, f64::min) - 5.0;
        if row.holds(span.start_s) {
            let first = rows.y(row, notes[0].key) - 6.0;
            changes += &bow_change(row.x(span.start_s) + 1.0, first);
        }
        if notes.len() > 1 {
            slurs += &slur(row.x(span.start_s) + 2.0, row.x(span.end_s) - 2.0, top - 3.0);
        }
    }
    svg.path(&changes, "class=\"bow\"");
    svg.path(&slurs, "class=\"slur\" stroke-width=\"0.7\"");
}

fn breaths(svg: &mut Svg, content: &PageContent, row: &PageRow) {
    let mut marks = String::new();
    // A breath is taken between two spans.
    let ends = content.spans.windows(2).map(|pair| (pair[0].end_s + pair[1].start_s) / 2.0);
    for at_s in ends.filter(|at_s| row.holds(*at_s)) {
        marks += &breath(row.x(at_s), row.top + ABOVE - 8.0);
    }
    svg.path(&marks, "class=\"breath\" stroke-width=\"1.2\"");
}

fn open_strings(svg: &mut Svg, content: &PageContent, rows: &PageRows, row: &PageRow) {
    let Some(strings) = &content.instrument.strings else { return };
    let rings = |key: &u8| {
        strings.forced_open_keys.contains(key)
            || strings.open_policy != OpenPolicy::Stopped && strings.open_keys.contains(key)
    };
    let notes = notes_in(content, row).filter(|note| rings(&note.key) && row.holds(note.start_s));
    let marks: String = notes
        .map(|note| open_string(row.x(note.start_s) + 7.0, rows.y(row, note.key) - 6.0))
        .collect();
    svg.path(&marks, "class=\"open\"");
}

/// The findings by their numbers in the list, above the row, each with a line to its note.
fn numbers(svg: &mut Svg, content: &PageContent, rows: &PageRows, row: &PageRow) {
    svg.open("numbers", "fill=\"none\" stroke=\"#000000\" stroke-width=\"0.6\"");
    let mut free_from = f64::NEG_INFINITY;
    for (place, finding) in content.findings.iter().enumerate() {
        let at_s = finding.hit.at_s;
        if !row.holds(at_s) {
            continue;
        }
        let words = (place + 1).to_string();
        let width = (text_width(&words, NUMBER_SIZE) + 4.0).max(BOX);
        let at = row.x(at_s);
        let left = (at - width / 2.0).max(free_from);
        let top = row.top + 10.5;
        let (x, y) = (left + width / 2.0, top + BOX);
        let note_y = rows.y(row, finding.key) - 4.0;
        let line = format!("M{} {}L{} {}", number(x), number(y), number(at), number(note_y.max(y)));
        svg.path(&line, "stroke-dasharray=\"1.5 1.5\"");
        svg.rect(left, top, width, BOX, "fill=\"#ffffff\"");
        let style = "class=\"number\" fill=\"#000000\" stroke=\"none\" font-weight=\"600\"";
        svg.text(x, top + 8.3, NUMBER_SIZE, Anchor::Middle, style, &words);
        free_from = left + width + 1.5;
    }
    svg.close();
}

/// A new bow: a short bar with a hook to either side, neither up nor down.
fn bow_change(x: f64, y: f64) -> String {
    format!("M{} {}h5m-2.5 0v5", number(x - 2.5), number(y - 5.0))
}

fn slur(from: f64, to: f64, y: f64) -> String {
    let rise = ((to - from) * 0.12).clamp(2.0, 6.0);
    let (middle, top) = (number((from + to) / 2.0), number(y - rise));
    format!("M{} {y}Q{middle} {top} {} {y}", number(from), number(to), y = number(y))
}

/// The comma that players know.
fn breath(x: f64, y: f64) -> String {
    format!("M{} {}q2.5 3 -1.5 7", number(x), number(y - 3.0))
}

/// The little ring that players know.
fn open_string(x: f64, y: f64) -> String {
    format!("M{} {}a2.2 2.2 0 1 0 0.01 0", number(x), number(y - 4.4))
}

fn frame(x: f64, y: f64, side: f64) -> String {
    let side = number(side);
    format!("M{} {}h{side}v{side}h-{side}z", number(x), number(y))
}
