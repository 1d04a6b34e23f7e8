//! The notes as bars of their length, the performed pitch drawn on them in cents.

use super::curve_path::path;
use super::lanes::LanePen;
use super::layout::{Lane, PlotLayout};
use super::performed_curves::PerformedCurves;
use super::svg::{Anchor, Svg, number, text_width};
use super::theme::PlotTheme;
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::pitch::key_name;

/// Semitones left free above and below the notes.
const MARGIN: f64 = 1.6;
const NAME_SIZE: f64 = 10.0;
/// Names on the axis keep this distance.
const AXIS_SPACE: f64 = 12.0;

/// The keys that the lane goes from and to.
pub fn range(takes: &[&PerformedCurves], layout: &PlotLayout) -> (f64, f64) {
    let inside = takes.iter().flat_map(|curves| &curves.notes);
    let keys = inside.filter(|note| is_inside(layout, note)).map(|note| f64::from(note.key));
    let (low, high) = keys
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), key| (low.min(key), high.max(key)));
    if low > high {
        return (59.0, 73.0);
    }
    let middle = (low + high) / 2.0;
    let half = ((high - low) / 2.0 + MARGIN).max(5.0);
    (middle - half, middle + half)
}

/// Some of the note lies in the picture.
pub fn is_inside(layout: &PlotLayout, note: &PerformedNote) -> bool {
    note.end_s > layout.window.start_s && note.start_s < layout.window.end_s
}

/// Draws the axis: open strings, then every C.
pub fn axis(
    svg: &mut Svg,
    layout: &PlotLayout,
    theme: &PlotTheme,
    instrument: &Instrument,
    range: (f64, f64),
) {
    let open: Vec<u8> =
        instrument.strings.iter().flat_map(|strings| strings.open_keys.clone()).collect();
    let others = (0..128_u8).filter(|key| key % 12 == 0 && !open.contains(key));
    let inside = |key: &u8| f64::from(*key) > range.0 && f64::from(*key) < range.1;
    let mut taken: Vec<f64> = Vec::new();
    svg.open("axis-notes", "");
    for key in open.iter().copied().chain(others).filter(inside) {
        let y = layout.y(Lane::Notes, f64::from(key), range);
        let is_open = open.contains(&key);
        let dashes = if is_open { "" } else { " stroke-dasharray=\"1 4\"" };
        let line = format!("M{} {}H{}", number(layout.left), number(y), number(layout.right));
        svg.path(&line, &format!("stroke=\"{}\"{dashes}", theme.grid));
        if taken.iter().all(|it| (it - y).abs() >= AXIS_SPACE) {
            let style = format!("class=\"axis\" fill=\"{}\"", theme.quiet);
            svg.text(layout.left - 6.0, y + 3.5, 10.0, Anchor::End, &style, &key_name(key));
            if is_open {
                let style = format!("class=\"name\" fill=\"{}\"", theme.quiet);
                svg.text(layout.right + 8.0, y + 3.5, 10.0, Anchor::Start, &style, "open string");
            }
            taken.push(y);
        }
    }
    scale(svg, layout, theme, range, &taken);
    svg.close();
}

/// How far 100 cents are.
fn scale(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme, range: (f64, f64), taken: &[f64]) {
    let (top, bottom) = layout.lane(Lane::Notes);
    let semitone = (bottom - top) / (range.1 - range.0);
    let is_free = |y: &f64| taken.iter().all(|it| (it - y).abs() >= 2.0 * AXIS_SPACE);
    let Some(y) = (1..20).map(|step| top + 13.0 * f64::from(step)).find(is_free) else { return };
    let x = layout.right + 12.0;
    let half = semitone / 2.0;
    let mark = format!("M{0} {1}h6m-3 0V{2}m-3 0h6", number(x), number(y - half), number(y + half));
    svg.path(&mark, &format!("fill=\"none\" stroke=\"{}\"", theme.quiet));
    let style = format!("class=\"unit\" fill=\"{}\"", theme.quiet);
    svg.text(x + 12.0, y + 3.5, 10.0, Anchor::Start, &style, "100 cents");
}

/// Draws the notes of a take and the pitch on them.
pub fn draw(svg: &mut Svg, pen: LanePen, curves: &PerformedCurves, range: (f64, f64)) {
    let LanePen { layout, theme, is_other } = pen;
    let (top, bottom) = layout.lane(Lane::Notes);
    let thick = ((bottom - top) / (range.1 - range.0) * 0.62).clamp(2.0, 11.0);
    let (suffix, style) = match is_other {
        true => {
            ("-other", format!("fill=\"none\" stroke=\"{}\" stroke-dasharray=\"2 2\"", theme.quiet))
        }
        false => ("", format!("fill=\"{}\"", theme.note)),
    };
    svg.open(&format!("notes{suffix}"), &style);
    for note in curves.notes.iter().filter(|note| is_inside(layout, note)) {
        let from = layout.x(note.start_s).max(layout.left);
        let to = layout.x(note.end_s).min(layout.right);
        let y = layout.y(Lane::Notes, f64::from(note.key), range) - thick / 2.0;
        let data = format!(
            "rx=\"{}\" data-key=\"{}\" data-tick=\"{}\"",
            number(thick / 3.0),
            note.key,
            note.tick
        );
        svg.rect(from, y, (to - from).max(0.6), thick, &data);
    }
    svg.close();
    svg.open(&format!("pitch{suffix}"), "fill=\"none\" stroke-linejoin=\"round\"");
    for pitch in &curves.pitches {
        pen.stroke(svg, &path(layout, Lane::Notes, pitch, range), theme.vibrato, 1.3, "");
    }
    svg.close();
}

/// Names the notes that are long enough for their name.
pub fn names(
    svg: &mut Svg,
    layout: &PlotLayout,
    theme: &PlotTheme,
    curves: &PerformedCurves,
    range: (f64, f64),
) {
    svg.open("note-names", &format!("fill=\"{}\"", theme.ink));
    let mut taken: Vec<(f64, f64, f64)> = Vec::new();
    let (top, bottom) = layout.lane(Lane::Notes);
    let drop = ((bottom - top) / (range.1 - range.0) * 0.8).clamp(13.0, 20.0);
    for note in curves.notes.iter().filter(|note| is_inside(layout, note)) {
        let words = key_name(note.key);
        let (from, to) =
            (layout.x(note.start_s).max(layout.left), layout.x(note.end_s).min(layout.right));
        let width = text_width(&words, NAME_SIZE);
        let y = layout.y(Lane::Notes, f64::from(note.key), range) + drop;
        let is_taken = taken.iter().rev().take(16).any(|(end, at, start)| {
            from < *end + 2.0 && from + width > *start - 2.0 && (at - y).abs() < NAME_SIZE + 2.0
        });
        if to - from < width || y > bottom - 2.0 || is_taken {
            continue;
        }
        svg.text(from, y, NAME_SIZE, Anchor::Start, "class=\"note\"", &words);
        taken.push((from + width, y, from));
    }
    svg.close();
}
