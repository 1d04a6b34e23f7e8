//! The gesture comes in at the left and branches into everything it becomes, each with its title.

use super::layout::{Lane, PlotLayout};
use super::svg::{Anchor, Svg, number};
use super::theme::PlotTheme;

/// A lane's title and unit, and the branch that leads to it.
struct LaneTitle {
    lane: Lane,
    colour: &'static str,
    dashes: &'static str,
    title: &'static str,
    unit: &'static str,
}

fn all(theme: &PlotTheme, is_breath: bool) -> [LaneTitle; 8] {
    let lane_title =
        |lane, colour, dashes, title, unit| LaneTitle { lane, colour, dashes, title, unit };
    let left = if is_breath { "breath left" } else { "bow left" };
    [
        lane_title(Lane::Notes, theme.vibrato, "", "pitch", "notes, cents"),
        lane_title(Lane::Level, theme.level, "", "level", "0 to 1"),
        lane_title(Lane::Gesture, theme.gesture, "", "gesture", "0 to 1"),
        lane_title(Lane::Vibrato, theme.vibrato, "7 2", "vibrato", "cents, Hz"),
        lane_title(Lane::Style, theme.style, "", "style", "weights 0 to 1"),
        lane_title(Lane::Legato, theme.legato, "2 2", "legato", "mode"),
        lane_title(Lane::Budget, theme.budget, "9 2 2 2", left, "share"),
        lane_title(Lane::Tail, theme.tail, "4 3", "phrase end", "lift 0 to 1"),
    ]
}

/// Draws the thread of the gesture, its branches and the titles at their ends.
pub fn draw(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme, is_breath: bool) {
    let lane_titles = all(theme, is_breath);
    let middle = |lane: Lane| {
        let (top, bottom) = layout.lane(lane);
        (top + bottom) / 2.0
    };
    let y = middle(Lane::Gesture);
    let (knot, end) = (layout.branches_end * 0.36, layout.branches_end - 4.0);
    svg.open("thread", "fill=\"none\" stroke-linecap=\"round\"");
    for lane_title in &lane_titles {
        let to = middle(lane_title.lane);
        let bend = (end - knot) * 0.55;
        let (knot, end) = (number(knot), number(end));
        let (bend, unbend) =
            (number(layout.branches_end * 0.36 + bend), number(layout.branches_end - 4.0 - bend));
        let (y, to) = (number(y), number(to));
        let path = format!("M{knot} {y}C{bend} {y} {unbend} {to} {end} {to}");
        let dashes = dashes(lane_title.dashes);
        svg.path(&path, &format!("stroke=\"{}\" stroke-width=\"2\"{dashes}", lane_title.colour));
    }
    let thread = format!("M0 {y}H{}", number(knot), y = number(y));
    svg.path(&thread, &format!("stroke=\"{}\" stroke-width=\"5\"", theme.gesture));
    svg.close();
    svg.open("titles", "");
    for lane_title in &lane_titles {
        let to = middle(lane_title.lane);
        svg.dot(layout.branches_end - 4.0, to, 3.0, &format!("fill=\"{}\"", lane_title.colour));
        let x = layout.branches_end + 4.0;
        let bold = format!("fill=\"{}\" font-weight=\"600\"", theme.ink);
        svg.text(x, to - 1.0, 12.0, Anchor::Start, &bold, lane_title.title);
        let quiet = format!("class=\"unit\" fill=\"{}\"", theme.quiet);
        svg.text(x, to + 12.0, 10.0, Anchor::Start, &quiet, lane_title.unit);
    }
    svg.close();
}

/// The attribute for dashes, or nothing for a whole line.
pub fn dashes(dashes: &str) -> String {
    if dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dashes}\"") }
}
