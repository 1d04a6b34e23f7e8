//! Bars and beats above the lanes, seconds below them, and the tempo where it changes.

use super::layout::{Lane, PlotLayout};
use super::svg::{Anchor, Svg, number, point, text_width};
use super::theme::PlotTheme;
use crate::offline::midi::{MetreMap, TempoMap};

/// Bars nearer than this get no line.
const BAR_SPACE_MIN: f64 = 5.0;
/// Beats nearer than this get no tick.
const BEAT_SPACE_MIN: f64 = 7.0;
const LABEL_SPACE: f64 = 10.0;
const SIZE: f64 = 11.0;
/// The most bars that a ruler counts out.
const BARS_MAX: u64 = 200_000;
/// Steps between seconds.
const STEPS_S: [f64; 14] =
    [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 7200.0];

/// Draws the grounds of the lanes, the ruler and the seconds.
pub fn draw(
    svg: &mut Svg,
    layout: &PlotLayout,
    theme: &PlotTheme,
    clock: &TempoMap,
    meter: Option<&MetreMap>,
) {
    svg.open("grounds", &format!("fill=\"{}\"", theme.lane));
    for lane in Lane::ALL {
        let (top, bottom) = layout.lane(lane);
        svg.rect(layout.left, top, layout.right - layout.left, bottom - top, "");
    }
    svg.close();
    if let Some(meter) = meter {
        bars(svg, layout, theme, clock, meter);
        tempi(svg, layout, theme, clock);
    }
    seconds(svg, layout, theme);
}

fn bars(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme, clock: &TempoMap, meter: &MetreMap) {
    let window = layout.window;
    // The window's start may be a little before its bar, by the grain of a float.
    let first = meter.position(clock.tick_at(window.start_s + 1e-6) as u64).0;
    let start_of = |bar: u64| clock.seconds_at(meter.bar_start(bar));
    let starts: Vec<(u64, f64)> = (first..first + BARS_MAX)
        .map(|bar| (bar, start_of(bar)))
        .take_while(|(_, start_s)| *start_s <= window.end_s + 1e-6)
        .filter(|(_, start_s)| *start_s >= window.start_s - 1e-6)
        .collect();
    let space = (layout.right - layout.left) / starts.len().max(1) as f64;
    let (ruler_y, bottom) = (layout.ruler_top() + 30.0, layout.lanes_bottom());
    let widest = starts.last().map_or(0.0, |(bar, _)| text_width(&bar.to_string(), SIZE));
    let every = [1, 2, 4, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000]
        .into_iter()
        .find(|every| *every as f64 * space >= widest + LABEL_SPACE)
        .unwrap_or(20_000);
    svg.open("ruler", &format!("stroke=\"{}\"", theme.grid));
    let (mut lines, mut ticks) = (String::new(), String::new());
    for &(bar, start_s) in &starts {
        let x = layout.x(start_s);
        let is_named = bar % every == 0 || every == 1 || bar == 1;
        if space >= BAR_SPACE_MIN || is_named {
            point(&mut lines, true, x, ruler_y);
            lines += &format!("V{}", number(bottom));
        }
        let beats = beats(clock, meter, bar).into_iter().map(|beat_s| layout.x(beat_s));
        let beats: Vec<f64> = beats.filter(|x| *x < layout.right).collect();
        let beat_space = beats.first().map_or(0.0, |first| first - x);
        for x in beats.into_iter().filter(|_| beat_space >= BEAT_SPACE_MIN) {
            point(&mut ticks, true, x, ruler_y);
            ticks += "v-5";
        }
    }
    svg.path(&lines, "fill=\"none\"");
    svg.path(&ticks, "fill=\"none\"");
    svg.close();
    svg.open("bars", &format!("fill=\"{}\"", theme.ink));
    let mut free_from = f64::NEG_INFINITY;
    for &(bar, start_s) in &starts {
        let (words, x) = (bar.to_string(), layout.x(start_s) + 3.0);
        let is_named = bar % every == 0 || every == 1 || bar == 1;
        let end = x + text_width(&words, SIZE);
        if is_named && x >= free_from && end <= layout.right + 20.0 {
            svg.text(x, ruler_y - 6.0, SIZE, Anchor::Start, "class=\"bar\"", &words);
            free_from = end + 2.0;
        }
    }
    let style = format!("class=\"unit\" fill=\"{}\"", theme.quiet);
    svg.text(layout.left - 8.0, ruler_y - 6.0, 10.0, Anchor::End, &style, "bar");
    svg.close();
}

/// When the beats of a bar after its first begin.
fn beats(clock: &TempoMap, meter: &MetreMap, bar: u64) -> Vec<f64> {
    let (start, end) = (meter.bar_start(bar), meter.bar_start(bar + 1));
    let count = meter.position(end.saturating_sub(1).max(start)).1;
    let step = (end - start) as f64 / count as f64;
    (1..count).map(|beat| clock.seconds_at(start + (step * beat as f64) as u64)).collect()
}

fn tempi(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme, clock: &TempoMap) {
    svg.open("tempi", &format!("fill=\"{}\"", theme.quiet));
    let mut free_from = f64::NEG_INFINITY;
    let before =
        clock.tempo_ticks().filter(|tick| clock.seconds_at(*tick) <= layout.window.start_s).last();
    let inside = clock.tempo_ticks().filter(|tick| clock.seconds_at(*tick) > layout.window.start_s);
    for tick in before.into_iter().chain(inside) {
        let x = layout.x(clock.seconds_at(tick).max(layout.window.start_s));
        let words = format!("{} bpm", number(clock.tempo_bpm_at(tick)));
        let end = x + text_width(&words, 10.0);
        if x >= free_from && end <= layout.right {
            svg.text(x, layout.ruler_top() + 11.0, 10.0, Anchor::Start, "class=\"tempo\"", &words);
            free_from = end + 6.0;
        }
    }
    svg.close();
}

fn seconds(svg: &mut Svg, layout: &PlotLayout, theme: &PlotTheme) {
    let window = layout.window;
    let per_s = (layout.right - layout.left) / (window.end_s - window.start_s);
    let step = STEPS_S.into_iter().find(|step| step * per_s >= 60.0).unwrap_or(14_400.0);
    let y = layout.lanes_bottom();
    svg.open("seconds", &format!("fill=\"{}\"", theme.quiet));
    let mut at = (window.start_s / step).ceil() * step;
    while at <= window.end_s {
        let x = layout.x(at);
        let tick = format!("M{} {}v4", number(x), number(y));
        svg.path(&tick, &format!("stroke=\"{}\"", theme.quiet));
        let words = clock_words(at);
        if x + text_width(&words, 10.0) / 2.0 <= layout.right {
            svg.text(x, y + 15.0, 10.0, Anchor::Middle, "class=\"time\"", &words);
        }
        at += step;
    }
    svg.text(layout.left - 30.0, y + 15.0, 10.0, Anchor::End, "class=\"unit\"", "time");
    svg.close();
}

/// Seconds as people say them.
fn clock_words(seconds: f64) -> String {
    let whole = seconds as u64;
    match whole {
        0..60 => format!("{} s", number(seconds)),
        60..3600 => format!("{}:{:02}", whole / 60, whole % 60),
        _ => format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60),
    }
}
