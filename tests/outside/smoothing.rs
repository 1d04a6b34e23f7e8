//! The gesture's smoothing against SciPy's simulation of the same two poles.

use approx::{assert_abs_diff_eq, assert_abs_diff_ne};
use polso::engine::patch::Response;

use super::readers::answers;
use super::receiver::settings;
use super::rehearsal::{Score, watch};
use super::sample::figure;

/// The engine's one-pole is a quotient within 4e-6 of the exponential a tick. This is an eightieth
/// of a step of seven bits.
const HELD_OFF_MAX: f64 = 1e-4;
/// Each of the engine's poles holds its input for a tick, so each is about half a tick early.
const EVEN_OFF_S_MAX: f64 = 0.001;

/// Seconds and positions of a controller.
type Motion = Vec<(f64, f64)>;

/// A motion looked at every so many milliseconds, in steps of seven bits or without steps.
fn polled(length_s: f64, every_ms: u32, steps: f64, motion: impl Fn(f64) -> f64) -> Motion {
    let mut polled: Motion = vec![(0.0, 0.0)];
    for poll in 0..=(length_s * 1000.0) as u32 / every_ms {
        let at_s = f64::from(poll * every_ms) / 1000.0;
        let place = motion(at_s / length_s);
        let value = if steps > 0.0 { (place * steps).round() / steps } else { place };
        if polled[polled.len() - 1].1 != value {
            polled.push((0.05 + at_s, value));
        }
    }
    polled
}

/// The weight, the motion and what the engine makes of it, as lines of a table.
fn case(weight: f64, motion: &[(f64, f64)]) -> String {
    let mut patch = settings("erhu", "perform", 0.0).patch;
    (patch.hand.low, patch.hand.high, patch.hand.weight) = (0.0, 1.0, weight);
    (patch.hand.dead_zone_rest, patch.hand.dead_zone_full) = (0.0, 0.0);
    patch.hand.response = Response::Exponential(0.0);
    let score =
        motion.iter().fold(Score::new(), |score, (at_s, value)| score.gesture(*at_s, *value));
    let (views, _) = watch(&patch, &score, motion[motion.len() - 1].0 + 0.2);
    let words = |words: Vec<String>| words.join(" ");
    let motion = words(motion.iter().map(|(at_s, value)| format!("{at_s:e},{value:e}")).collect());
    let gesture = words(views.iter().map(|view| format!("{:e}", view.gesture)).collect());
    format!("{weight}\n{motion}\n{gesture}\n")
}

#[test]
fn the_smoothing_is_that_of_two_poles_in_scipy() {
    let swell = |share: f64| 0.5 - 0.5 * libm::cos(std::f64::consts::TAU * share);
    let ramp = |share: f64| share;
    let steps = |share: f64| [0.0, 0.3, 0.9, 0.2, 0.25, 1.0, 0.0][(share * 6.0).round() as usize];
    let cases = [
        case(1.0, &polled(0.3, 8, 0.0, swell)),
        case(1.0, &polled(1.0, 8, 127.0, swell)),
        case(2.0, &polled(1.0, 8, 127.0, swell)),
        case(1.0, &polled(1.5, 5, 127.0, ramp)),
        case(0.5, &polled(1.0, 20, 0.0, ramp)),
        case(3.0, &polled(1.2, 10, 0.0, steps)),
        case(1.0, &polled(1.0, 45, 127.0, swell)),
    ];
    let answers = answers("smoothing.py", &cases.concat());
    assert_eq!(answers.len(), cases.len());
    let (mut held, mut even_s) = (0.0_f64, 0.0_f64);
    for answer in &answers {
        let [held_off, even_off, speed_per_s] = answer[..] else { panic!("{answer:?}") };
        println!("held {held_off:.2e}, even {even_off:.2e} at up to {speed_per_s:.2} /s");
        held = held.max(held_off);
        even_s = even_s.max(even_off / speed_per_s);
    }
    assert_abs_diff_eq!(held, 0.0, epsilon = HELD_OFF_MAX);
    assert_abs_diff_eq!(even_s, 0.0, epsilon = EVEN_OFF_S_MAX);
    figure(
        "smoothing",
        &format!(
            "{} gestures within {held:.1e} of SciPy's two poles at the engine's ticks, and within \
             {:.2} ms of them in continuous time",
            cases.len(),
            1000.0 * even_s
        ),
    );
}

#[test]
fn scipy_notices_a_hand_that_is_a_little_heavier() {
    let swell = |share: f64| 0.5 - 0.5 * libm::cos(std::f64::consts::TAU * share);
    let heavier = case(1.02, &polled(1.0, 8, 127.0, swell));
    let (_, rest) = heavier.split_once('\n').expect("a weight");
    let answer = &answers("smoothing.py", &format!("1\n{rest}"))[0];
    assert_abs_diff_ne!(answer[0], 0.0, epsilon = HELD_OFF_MAX);
}
