//! A curve as a line in its lane, with its peaks, and no more points than it needs.

use super::column::ColumnCurve;
use super::layout::{Lane, PlotLayout};
use super::svg::point;

/// A line this near to a point passes through it: a twentieth of a unit is not seen.
const NEAR: f64 = 0.05;

/// The path of a curve in a lane of values between `range.0` and `range.1`.
pub fn path(layout: &PlotLayout, lane: Lane, curve: &ColumnCurve, range: (f64, f64)) -> String {
    let mut path = String::new();
    let mut run: Vec<(f64, f64)> = Vec::new();
    for (place, column) in curve.columns().iter().enumerate() {
        let Some(column) = column else {
            flush(&mut path, &mut run);
            continue;
        };
        if column.is_new {
            flush(&mut path, &mut run);
        }
        let (far, near) = match column.last >= column.first {
            true => (column.min, column.max),
            false => (column.max, column.min),
        };
        // Side by side within the column, so that a slope stays a slope.
        let mut add = |part: f64, value: f64| {
            run.push((layout.column_x(place as f64 + part), layout.y(lane, value, range)));
        };
        add(0.02, column.first);
        if far != column.first {
            add(0.35, far);
        }
        if near != column.last {
            add(0.65, near);
        }
        add(0.98, column.last);
    }
    flush(&mut path, &mut run);
    path
}

fn flush(path: &mut String, run: &mut Vec<(f64, f64)>) {
    // A single point is a short stroke, so that it is seen.
    if let [(x, y)] = run[..] {
        run.push((x + 0.4, y));
    }
    for (place, (x, y)) in thinned(run).into_iter().enumerate() {
        point(path, place == 0, x, y);
    }
    run.clear();
}

/// The points that are needed for no other to lie further than [`NEAR`] above or below the line.
fn thinned(run: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for (place, &(x, y)) in run.iter().enumerate() {
        let Some(&(x0, y0)) = kept.last() else {
            kept.push((x, y));
            continue;
        };
        let slopes = |x0: f64, y0: f64| match x > x0 {
            true => ((y - NEAR - y0) / (x - x0), (y + NEAR - y0) / (x - x0)),
            // Straight up or down: no line of any slope passes.
            false => (f64::INFINITY, f64::NEG_INFINITY),
        };
        let exact = (y - y0) / (x - x0);
        if place > 0 && !(x > x0 && (low..=high).contains(&exact)) {
            // The line cannot go on to here, so it bends at the point before.
            let bend = run[place - 1];
            if kept.last() != Some(&bend) {
                kept.push(bend);
            }
            (low, high) = slopes(bend.0, bend.1);
        } else {
            let (least, most) = slopes(x0, y0);
            (low, high) = (low.max(least), high.min(most));
        }
    }
    kept.extend(run.last().filter(|last| kept.last() != Some(last)));
    kept
}
