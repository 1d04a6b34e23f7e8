//! The least that a tick could cost: the model's own mathematics, with no line around it.

use polso::engine::math::curve::Curve;
use polso::engine::math::fast_math::{power, sine_of_turn};

/// The pitch goes out every so many ticks.
const PITCH_TICKS: u64 = 5;
/// A smoothing time of 20 ms, a rate of 5.5 Hz.
const POLE_SHARE: f64 = 0.001 / 0.010;
const RATE_HZ: f64 = 5.5;

/// So many ticks of two poles and six curves; every fifth has a sine and a power. The sum of what
/// comes out, so that nothing is left out.
pub fn ticks(count: u64) -> f64 {
    let points = [(0.0, 0.0), (0.2, 0.1), (0.5, 0.4), (0.8, 0.9), (1.0, 1.0)];
    let curve = Curve::through(&points).expect("rising points");
    let curves = [curve; 6];
    let (mut first, mut second, mut sum) = (0.0, 0.0, 0.0);
    for tick in 0..count {
        // A triangle of a second each way.
        let place = tick % 2000;
        let hand = place.min(2000 - place) as f64 * 0.001;
        first += POLE_SHARE * (hand - first);
        second += POLE_SHARE * (first - second);
        let mut width = 0.0;
        for curve in &curves {
            width += curve.at(second);
        }
        if tick % PITCH_TICKS == 0 {
            let swing = sine_of_turn(RATE_HZ * 0.001 * tick as f64);
            sum += width * power(0.5 + 0.5 * swing, 1.7);
        }
        sum += width;
    }
    sum
}
