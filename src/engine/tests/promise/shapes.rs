//! Curves and arms against their closed forms.

use polso_engine::math::curve::Curve;
use polso_engine::patch::{Response, Source};

use crate::rehearsal::{Score, patch_with, watch};

/// Slopes at the points and values between them.
fn check(points: &[(f64, f64)], slopes: &[f64], values: &[(f64, f64)], within: f64) {
    let curve = Curve::through(points).expect("a curve");
    for (place, slope) in slopes.iter().enumerate() {
        let own = curve.slope_at_point(place);
        assert!((own - slope).abs() <= within, "slope {place}: {own} or {slope}");
    }
    for (x, value) in values {
        let own = curve.at(*x);
        assert!((own - value).abs() <= within, "at {x}: {own} or {value}");
    }
    for &(x, y) in points {
        assert!((curve.at(x) - y).abs() <= 1e-15 * y.abs(), "through ({x}, {y}): {}", curve.at(x));
    }
}

/// The data RPN 14 of Fritsch and Carlson 1980 (SIAM J. Numer. Anal. 17), with slopes after
/// Fritsch and Butland as SciPy's `PchipInterpolator` gives them.
#[test]
fn the_published_data_have_their_slopes_and_values() {
    let x = [7.99, 8.09, 8.19, 8.7, 9.2, 10.0, 12.0, 15.0, 20.0];
    let y =
        [0.0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994];
    let points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
    let slopes = [
        0.0,
        5.525086819e-4,
        0.3358768346,
        0.3494491677,
        0.5969582389,
        0.06032184552,
        9.003953828e-4,
        3.142468363e-5,
        0.0,
    ];
    let values = [
        (8.14, 0.017697167376),
        (8.45, 0.106589537761),
        (9.6, 0.760247639340),
        (11.0, 0.986043362535),
    ];
    check(&points, &slopes, &values, 1e-10);
}

/// By hand: where the secants disagree the slope is 0, and the last end takes three halves.
#[test]
fn a_staircase_has_level_landings() {
    let points = [(0.0, 0.0), (1.0, 0.0), (2.0, 1.0), (3.0, 1.0), (4.0, 2.0)];
    check(&points, &[0.0, 0.0, 0.0, 0.0, 1.5], &[(1.25, 0.15625), (3.5, 1.3125)], 1e-15);
}

/// A receiver's response as SciPy interpolates it.
#[test]
fn a_controllers_knots_have_their_values() {
    let points = [(0.0, 0.0), (32.0, 10.0), (64.0, 40.0), (96.0, 80.0), (127.0, 100.0)];
    let values = [(16.0, 3.125), (48.0, 22.589286), (80.0, 60.887198), (112.0, 92.277775)];
    check(&points, &[], &values, 5e-7);
}

/// Where the gesture stands when an even ramp of this speed crosses the middle.
fn middle(speed_per_s: f64, weight: f64) -> f64 {
    let mut patch = patch_with("erhu", "perform", Source::Parameter, 1, 0.0);
    patch.hand.weight = weight;
    patch.hand.response = Response::Exponential(0.0);
    let mut score = Score::new().gesture(0.0, 0.0);
    let length_ms = (1000.0 / speed_per_s) as u32;
    for ms in 0..=length_ms {
        score = score.gesture(0.5 + 0.001 * f64::from(ms), speed_per_s * 0.001 * f64::from(ms));
    }
    let middle_ms = 500 + length_ms as usize / 2;
    let (views, _) = watch(&patch, &score, 0.001 * middle_ms as f64);
    views[middle_ms].gesture
}

/// Two equal poles of τ/2 follow a ramp τ behind (2/ω, REFERENCE; [calc]), and τ at a speed v is
/// 4 ms + 41 ms/(1 + (v/0.4)²) times the weight. What the de-stepping adds is the same for every
/// weight, so the difference of two weights shows τ alone.
#[test]
fn an_arm_of_twice_the_weight_follows_a_ramp_its_whole_time_further_behind() {
    for (speed_per_s, tau_s) in
        [(0.1, 0.004 + 0.041 / 1.0625), (0.4, 0.0245), (1.2, 0.0081), (4.0, 0.004 + 0.041 / 101.0)]
    {
        let behind_s = (middle(speed_per_s, 1.0) - middle(speed_per_s, 2.0)) / speed_per_s;
        assert!((behind_s - tau_s).abs() < 0.0002, "{speed_per_s} /s: {behind_s} or {tau_s} s");
    }
}
