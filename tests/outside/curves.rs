//! The engine's curve against SciPy's `PchipInterpolator` on a thousand random sets of points.

use approx::{assert_abs_diff_eq, assert_abs_diff_ne};
use polso::engine::math::curve::{Curve, POINTS_MAX};

use super::gesture::Chance;
use super::readers::answers;
use super::sample::figure;

const SET_COUNT: usize = 1000;
const VALUE_COUNT: usize = 25;
/// Rounding of sums of a few terms of up to about 10.
const DIFFERENCE_MAX: f64 = 1e-12;

/// Points of 2 to 16 places over steps of very different size, rising, falling, level or wild.
fn points(chance: &mut Chance) -> Vec<(f64, f64)> {
    let count = 2 + (chance.next() * (POINTS_MAX - 1) as f64) as usize;
    let kind = chance.next();
    let (mut x, mut y) = (chance.between(-1.0, 1.0), chance.between(-1.0, 1.0));
    let mut points = Vec::new();
    for _ in 0..count {
        points.push((x, y));
        x += chance.between(0.001, 1.0) * chance.next().max(0.01);
        y += match kind {
            kind if kind < 0.4 => chance.next(),
            kind if kind < 0.6 => -chance.next(),
            kind if kind < 0.8 && chance.next() < 0.4 => 0.0,
            _ => chance.between(-1.0, 1.0),
        };
    }
    points
}

/// SciPy's answer to a table of points and values: how many sets, and the largest difference.
fn scipy(table: &str) -> (usize, f64) {
    let answer = &answers("curves.py", table)[0];
    (answer[0] as usize, answer[1])
}

/// One line of the table: the points, and the curve's values between them, moved by `error`.
fn row(points: &[(f64, f64)], chance: &mut Chance, error: f64) -> String {
    let curve = Curve::through(points).expect("a curve");
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    let values = (0..VALUE_COUNT).map(|_| {
        let x = chance.between(first, last);
        (x, curve.at(x) + error)
    });
    let write = |pairs: Vec<(f64, f64)>| {
        let words = pairs.iter().map(|(x, y)| format!("{x:e},{y:e}"));
        words.collect::<Vec<_>>().join(" ")
    };
    format!("{}|{}\n", write(points.to_vec()), write(values.collect()))
}

#[test]
fn a_thousand_random_curves_agree_with_scipy() {
    let mut chance = Chance::new("curves", 1);
    let table: String = (0..SET_COUNT)
        .map(|_| {
            let points = points(&mut chance);
            row(&points, &mut chance, 0.0)
        })
        .collect();
    let (count, difference) = scipy(&table);
    assert_eq!(count, SET_COUNT);
    assert_abs_diff_eq!(difference, 0.0, epsilon = DIFFERENCE_MAX);
    figure(
        "pchip",
        &format!("{count} random curves, largest difference from SciPy {difference:.1e}"),
    );
}

#[test]
fn scipy_notices_a_curve_that_is_a_little_off() {
    let mut chance = Chance::new("curves", 2);
    let points = points(&mut chance);
    let (_, difference) = scipy(&row(&points, &mut chance, 2.0 * DIFFERENCE_MAX));
    assert_abs_diff_ne!(difference, 0.0, epsilon = DIFFERENCE_MAX);
}
