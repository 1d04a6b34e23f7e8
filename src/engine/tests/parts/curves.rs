//! The curve of every response, by published numbers and by hand.

use approx::assert_abs_diff_eq;
use polso_engine::math::curve::{Curve, POINTS_MAX};

#[track_caller]
fn check(points: &[(f64, f64)], slopes: &[f64], values: &[(f64, f64)], epsilon: f64) {
    let curve = Curve::through(points).expect("a curve");
    for (place, slope) in slopes.iter().enumerate() {
        assert_abs_diff_eq!(curve.slope_at_point(place), *slope, epsilon = epsilon);
    }
    for &(x, y) in points.iter().chain(values) {
        assert_abs_diff_eq!(curve.at(x), y, epsilon = epsilon);
    }
    assert_eq!(curve.points().collect::<Vec<_>>(), points);
}

/// Data of Fritsch and Carlson (1980), SIAM J. Numer. Anal. 17; slopes as SciPy's
/// `PchipInterpolator` has them (REFERENCE 6).
#[test]
fn the_slopes_are_the_published_ones() {
    let points = [
        (7.99, 0.0),
        (8.09, 2.764_29e-5),
        (8.19, 4.374_98e-2),
        (8.7, 0.169_183),
        (9.2, 0.469_428),
        (10.0, 0.943_740),
        (12.0, 0.998_636),
        (15.0, 0.999_919),
        (20.0, 0.999_994),
    ];
    let slopes = [
        0.0,
        5.525_086_819e-4,
        0.335_876_834_6,
        0.349_449_167_7,
        0.596_958_238_9,
        0.060_321_845_52,
        9.003_953_828e-4,
        3.142_468_363e-5,
        0.0,
    ];
    let values = [
        (8.14, 0.017_697_167_376),
        (8.45, 0.106_589_537_761),
        (9.6, 0.760_247_639_340),
        (11.0, 0.986_043_362_535),
    ];
    check(&points, &slopes, &values, 1e-10);
}

#[test]
fn a_level_piece_stays_level_and_an_end_never_overshoots() {
    let stairs = [(0.0, 0.0), (1.0, 0.0), (2.0, 1.0), (3.0, 1.0), (4.0, 2.0)];
    check(&stairs, &[0.0, 0.0, 0.0, 0.0, 1.5], &[(1.25, 0.156_25), (3.5, 1.3125)], 1e-12);
    // The end rules: three secants at most where the next one turns, nothing where it would turn.
    check(&[(0.0, 0.0), (1.0, 1.0), (2.0, -9.0)], &[3.0, 0.0], &[], 1e-12);
    check(&[(0.0, 0.0), (1.0, -1.0), (2.0, 9.0)], &[-3.0, 0.0, 15.5], &[], 1e-12);
    check(&[(0.0, 9.0), (1.0, -1.0), (2.0, 0.0)], &[-15.5, 0.0, 3.0], &[], 1e-12);
    check(&[(0.0, 0.0), (2.0, 1.0), (3.0, 9.0)], &[0.0], &[(0.5, 0.058_423_913_043)], 1e-11);
    check(&[(0.0, 0.0), (1.0, 1.0), (3.0, -8.0)], &[17.0 / 6.0, 0.0, -49.0 / 6.0], &[], 1e-12);
    let uneven = [(0.0, 1.0), (1.0, 3.0), (3.0, 4.0), (4.0, 0.0), (6.0, -1.0)];
    let slopes = [2.5, 6.0 / 7.0, 0.0, -0.972_972_972_973, 0.0];
    let values = [(0.5, 2.205_357_142_857), (2.5, 3.924_107_142_857)];
    check(&uneven, &slopes, &values, 1e-11);
    check(&[(0.0, 0.0), (2.0, 3.0)], &[1.5, 1.5], &[(0.5, 0.75)], 1e-12);
}

#[test]
fn outside_its_points_a_curve_holds_its_ends() {
    let curve = Curve::through(&[(0.2, 0.5), (0.6, 0.9)]).expect("a curve");
    for (x, y) in [(-1.0, 0.5), (0.2, 0.5), (0.4, 0.7), (0.6, 0.9), (7.0, 0.9)] {
        assert_abs_diff_eq!(curve.at(x), y, epsilon = 1e-12);
    }
    let level = Curve::constant(4.5);
    assert_eq!([-1.0, 0.0, 0.5, 9.0].map(|x| level.at(x)), [4.5; 4]);
    let line = Curve::identity();
    assert_eq!([-1.0, 0.0, 0.25, 1.0, 2.0].map(|x| line.at(x)), [0.0, 0.0, 0.25, 1.0, 1.0]);
    assert_eq!(line.points().collect::<Vec<_>>(), [(0.0, 0.0), (1.0, 1.0)]);
}

#[test]
fn only_two_to_sixteen_finite_rising_points_make_a_curve() {
    let row = |count: usize| (0..count).map(|x| (x as f64, 1.0)).collect::<Vec<_>>();
    for count in [0, 1, POINTS_MAX + 1] {
        assert_eq!(Curve::through(&row(count)), None, "{count}");
    }
    for count in [2, POINTS_MAX] {
        assert!(Curve::through(&row(count)).is_some(), "{count}");
    }
    for points in [
        [(0.0, 0.0), (0.0, 1.0)],
        [(1.0, 0.0), (0.0, 1.0)],
        [(f64::NAN, 0.0), (1.0, 1.0)],
        [(0.0, 0.0), (f64::INFINITY, 1.0)],
        [(0.0, f64::NAN), (1.0, 1.0)],
        [(0.0, 0.0), (1.0, f64::NEG_INFINITY)],
    ] {
        assert_eq!(Curve::through(&points), None, "{points:?}");
    }
}

/// The numbers come from 200,000 steps along each segment.
#[test]
fn the_steepest_place_is_found_at_an_end_and_between() {
    #[track_caller]
    fn check(points: &[(f64, f64)], steepest: f64) {
        let curve = Curve::through(points).expect("a curve");
        assert_abs_diff_eq!(curve.slope_max(), steepest, epsilon = 1e-8);
    }
    check(&[(0.0, 0.0), (2.0, 3.0)], 1.5);
    check(&[(0.0, 3.0), (2.0, 0.0)], 1.5);
    check(&[(0.0, 1.0), (1.0, 3.0), (3.0, 4.0), (4.0, 0.0), (6.0, -1.0)], 5.767_983_368);
    check(&[(0.0, 0.0), (1.0, 1.0), (3.0, -8.0)], 8.166_666_667);
    check(&[(0.0, 0.0), (2.0, 1.0), (3.0, 9.0)], 10.786_320_254);
    assert_eq!(Curve::constant(3.0).slope_max(), 0.0);
}
