//! One thread comes in at the left and splits into strands: the gesture and everything it becomes.

use super::frame::{Frame, Lane};
use super::svg::{Anchor, Svg, number};
use super::theme::Theme;

/// A strand's colour, dashes, title and unit.
struct Strand {
    lane: Lane,
    colour: &'static str,
    dashes: &'static str,
    title: &'static str,
    unit: &'static str,
}

fn strands(theme: &Theme, is_breath: bool) -> [Strand; 8] {
    let strand = |lane, colour, dashes, title, unit| Strand { lane, colour, dashes, title, unit };
    let left = if is_breath { "breath left" } else { "bow left" };
    [
        strand(Lane::Notes, theme.vibrato, "", "pitch", "notes, cents"),
        strand(Lane::Level, theme.level, "", "level", "0 to 1"),
        strand(Lane::Gesture, theme.gesture, "", "gesture", "0 to 1"),
        strand(Lane::Vibrato, theme.vibrato, "7 2", "vibrato", "cents, Hz"),
        strand(Lane::Style, theme.style, "", "style", "weights 0 to 1"),
        strand(Lane::Legato, theme.legato, "2 2", "legato", "mode"),
        strand(Lane::Budget, theme.budget, "9 2 2 2", left, "share"),
        strand(Lane::Tail, theme.tail, "4 3", "phrase end", "lift 0 to 1"),
    ]
}

/// Draws the thread, its strands and the titles at their ends.
pub fn draw(svg: &mut Svg, frame: &Frame, theme: &Theme, is_breath: bool) {
    let strands = strands(theme, is_breath);
    let middle = |lane: Lane| {
        let (top, bottom) = frame.lane(lane);
        (top + bottom) / 2.0
    };
    let y = middle(Lane::Gesture);
    let (knot, end) = (frame.strands_end * 0.36, frame.strands_end - 4.0);
    svg.open("thread", "fill=\"none\" stroke-linecap=\"round\"");
    for strand in &strands {
        let to = middle(strand.lane);
        let bend = (end - knot) * 0.55;
        let (knot, end) = (number(knot), number(end));
        let (bend, unbend) =
            (number(frame.strands_end * 0.36 + bend), number(frame.strands_end - 4.0 - bend));
        let (y, to) = (number(y), number(to));
        let path = format!("M{knot} {y}C{bend} {y} {unbend} {to} {end} {to}");
        let dashes = dashes(strand.dashes);
        svg.path(&path, &format!("stroke=\"{}\" stroke-width=\"2\"{dashes}", strand.colour));
    }
    let thread = format!("M0 {y}H{}", number(knot), y = number(y));
    svg.path(&thread, &format!("stroke=\"{}\" stroke-width=\"5\"", theme.gesture));
    svg.close();
    svg.open("titles", "");
    for strand in &strands {
        let to = middle(strand.lane);
        svg.dot(frame.strands_end - 4.0, to, 3.0, &format!("fill=\"{}\"", strand.colour));
        let x = frame.strands_end + 4.0;
        let bold = format!("fill=\"{}\" font-weight=\"600\"", theme.ink);
        svg.text(x, to - 1.0, 12.0, Anchor::Start, &bold, strand.title);
        let quiet = format!("class=\"unit\" fill=\"{}\"", theme.quiet);
        svg.text(x, to + 12.0, 10.0, Anchor::Start, &quiet, strand.unit);
    }
    svg.close();
}

/// The attribute for dashes, or nothing for a whole line.
pub fn dashes(dashes: &str) -> String {
    if dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dashes}\"") }
}
