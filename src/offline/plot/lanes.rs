//! The curves in their lanes: level, gesture, vibrato, styles, budget and the ends of phrases.

use super::curve_path::path;
use super::lane_titles::dashes;
use super::layout::{Lane, PlotLayout};
use super::performed_curves::PerformedCurves;
use super::svg::{Anchor, Svg, number};
use super::theme::PlotTheme;

/// A line's name, colour and dashes.
pub struct LegendEntry<'a> {
    /// What it is.
    pub words: String,
    /// Its colour.
    pub colour: &'a str,
    /// Its dashes.
    pub dashes: &'a str,
}

/// The dashes of the styles, the lightest first.
const STYLE_DASHES: [&str; 4] = ["2 3", "", "8 3", "8 3 2 3"];
/// A second take is dotted.
const OTHER_DASHES: &str = "1 2.5";
/// From one line of a hatch to the next.
const HATCH: f64 = 7.0;
const SHARE: (f64, f64) = (0.0, 1.0);

/// What the lanes are drawn with.
#[derive(Clone, Copy)]
pub struct LanePen<'a> {
    /// The places.
    pub layout: &'a PlotLayout,
    /// The colours.
    pub theme: &'a PlotTheme,
    /// The second take, laid over the first.
    pub is_other: bool,
}

impl LanePen<'_> {
    /// One curve.
    pub fn stroke(&self, svg: &mut Svg, points: &str, colour: &str, width: f64, line: &str) {
        let (line, width) = if self.is_other { (OTHER_DASHES, 1.4) } else { (line, width) };
        let (width, dashes) = (number(width), dashes(line));
        svg.path(points, &format!("stroke=\"{colour}\" stroke-width=\"{width}\"{dashes}"));
    }

    fn open(&self, svg: &mut Svg, lane: Lane) {
        let suffix = if self.is_other { "-other" } else { "" };
        svg.open(&format!("lane-{}{suffix}", lane.id()), "fill=\"none\" stroke-linejoin=\"round\"");
    }
}

/// Highest width and rate that the vibrato lane has to show: a round number.
pub fn vibrato_range(takes: &[&PerformedCurves]) -> ((f64, f64), (f64, f64)) {
    let highest =
        |of: fn(&PerformedCurves) -> f64| takes.iter().map(|it| of(it)).fold(0.0, f64::max);
    let cents = (highest(|it| it.width_cents.highest()) / 20.0).ceil().max(1.0) * 20.0;
    let hz = highest(|it| it.rate_hz.highest()).ceil().max(1.0);
    ((0.0, cents), (0.0, hz))
}

/// The lowest that the budget's lane has to show.
pub fn budget_range(takes: &[&PerformedCurves]) -> (f64, f64) {
    let lowest = takes.iter().map(|it| it.left.lowest()).fold(0.0, f64::min);
    ((lowest * 2.0).floor() / 2.0, 1.0)
}

/// Draws all curves of a take.
pub fn draw(svg: &mut Svg, pen: LanePen, curves: &PerformedCurves, ranges: &LaneRanges) {
    let LanePen { layout, theme, .. } = pen;
    pen.open(svg, Lane::Level);
    pen.stroke(svg, &path(layout, Lane::Level, &curves.expression, SHARE), theme.level, 1.2, "4 3");
    pen.stroke(svg, &path(layout, Lane::Level, &curves.dynamics, SHARE), theme.level, 2.0, "");
    svg.close();
    pen.open(svg, Lane::Gesture);
    pen.stroke(svg, &path(layout, Lane::Gesture, &curves.raw, SHARE), theme.quiet, 1.1, "2 2");
    pen.stroke(svg, &path(layout, Lane::Gesture, &curves.gesture, SHARE), theme.gesture, 2.4, "");
    svg.close();
    pen.open(svg, Lane::Vibrato);
    let (cents, hz) = ranges.vibrato;
    pen.stroke(svg, &path(layout, Lane::Vibrato, &curves.rate_hz, hz), theme.style, 1.2, "2 3");
    pen.stroke(
        svg,
        &path(layout, Lane::Vibrato, &curves.width_cents, cents),
        theme.vibrato,
        1.8,
        "",
    );
    svg.close();
    pen.open(svg, Lane::Style);
    for (weight, line) in curves.weights.iter().zip(STYLE_DASHES) {
        pen.stroke(svg, &path(layout, Lane::Style, weight, SHARE), theme.style, 1.7, line);
    }
    svg.close();
    pen.open(svg, Lane::Budget);
    if !pen.is_other {
        nothing_left(svg, layout, theme, ranges.budget);
    }
    pen.stroke(
        svg,
        &path(layout, Lane::Budget, &curves.left, ranges.budget),
        theme.budget,
        1.8,
        "",
    );
    svg.close();
    tail(svg, pen, curves);
}

/// Everything below nothing is hatched: there is no bow or breath for it.
fn nothing_left(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme, range: (f64, f64)) {
    let zero = layout.y(Lane::Budget, 0.0, range);
    let (_, bottom) = layout.lane(Lane::Budget);
    let mut lines = String::new();
    let mut x = layout.left;
    while x < layout.right {
        let down = (bottom - zero).min(layout.right - x);
        lines += &format!("M{} {}l{} {}", number(x), number(zero), number(down), number(down));
        x += HATCH;
    }
    svg.path(&lines, &format!("stroke=\"{}\" stroke-width=\"0.8\"", theme.grid));
    let line = format!("M{} {}H{}", number(layout.left), number(zero), number(layout.right));
    svg.path(&line, &format!("stroke=\"{}\"", theme.quiet));
}

fn tail(svg: &mut Svg, pen: LanePen, curves: &PerformedCurves) {
    let LanePen { layout, theme, .. } = pen;
    pen.open(svg, Lane::Tail);
    let (top, _) = layout.lane(Lane::Tail);
    let mut bars = String::new();
    for (from_s, to_s) in curves.tails.iter().filter(|(from_s, _)| layout.holds(*from_s)) {
        let (from, to) = (layout.x(*from_s), layout.x(*to_s).min(layout.right));
        bars += &format!("M{} {}H{}", number(from), number(top + 5.0), number(to.max(from + 1.5)));
    }
    pen.stroke(svg, &bars, theme.tail, 5.0, "");
    pen.stroke(svg, &path(layout, Lane::Tail, &curves.send, SHARE), theme.tail, 1.6, "4 2");
    svg.close();
}

/// What the lanes go from and to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneRanges {
    /// Cents and hertz.
    pub vibrato: ((f64, f64), (f64, f64)),
    /// Shares of the bow or breath.
    pub budget: (f64, f64),
}

/// Draws the axes at the left and the names of the lines at the right.
pub fn axes(
    svg: &mut Svg,
    layout: &PlotLayout,
    theme: &PlotTheme,
    ranges: &LaneRanges,
    styles: &[String],
) {
    svg.open("axes", &format!("fill=\"{}\"", theme.quiet));
    let mut axis = |lane: Lane, low: &str, high: &str| {
        let (top, bottom) = layout.lane(lane);
        let x = layout.left - 6.0;
        svg.text(x, top + 9.0, 10.0, Anchor::End, "class=\"axis\"", high);
        svg.text(x, bottom, 10.0, Anchor::End, "class=\"axis\"", low);
    };
    axis(Lane::Level, "0", "1");
    axis(Lane::Gesture, "0", "1");
    let (cents, hz) = ranges.vibrato;
    axis(Lane::Vibrato, "0", &format!("{} c", number(cents.1)));
    axis(Lane::Style, "0", "1");
    axis(Lane::Budget, &number(ranges.budget.0), "1");
    axis(Lane::Tail, "0", "1");
    svg.close();
    svg.open("names", &format!("fill=\"{}\"", theme.quiet));
    let mut names = |lane, entries: &[LegendEntry]| legend(svg, layout, lane, entries);
    let entry =
        |words: &str, colour, dashes| LegendEntry { words: words.to_owned(), colour, dashes };
    names(
        Lane::Level,
        &[entry("dynamics", theme.level, ""), entry("expression", theme.level, "4 3")],
    );
    names(
        Lane::Gesture,
        &[entry("gesture", theme.gesture, ""), entry("controller", theme.quiet, "2 2")],
    );
    let rate = format!("rate, to {} Hz", number(hz.1));
    names(Lane::Vibrato, &[entry("width", theme.vibrato, ""), entry(&rate, theme.style, "2 3")]);
    let styles = styles.iter().zip(STYLE_DASHES);
    let styles: Vec<LegendEntry> =
        styles.map(|(style, dashes)| entry(style, theme.style, dashes)).collect();
    names(Lane::Style, &styles);
    names(
        Lane::Budget,
        &[entry("what is left", theme.budget, ""), entry("hatched: none", theme.grid, "")],
    );
    names(Lane::Tail, &[entry("drawn out", theme.tail, "5 0"), entry("send", theme.tail, "4 2")]);
    svg.close();
}

fn legend(svg: &mut Svg, layout: &PlotLayout, lane: Lane, entries: &[LegendEntry]) {
    let (top, _) = layout.lane(lane);
    for (place, entry) in entries.iter().enumerate() {
        let y = top + 11.0 + 13.0 * place as f64;
        let x = layout.right + 8.0;
        let sample = format!("M{} {}h24", number(x), number(y - 3.5));
        let dashes = dashes(entry.dashes);
        svg.path(&sample, &format!("stroke=\"{}\" stroke-width=\"2\"{dashes}", entry.colour));
        svg.text(x + 30.0, y, 10.0, Anchor::Start, "class=\"name\"", &entry.words);
    }
}
