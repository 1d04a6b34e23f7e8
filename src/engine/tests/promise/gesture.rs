//! The arm follows the hand closely, evenly and never further than the hand went.

use polso_engine::Section;
use polso_engine::patch::{Patch, Response, Source};

use super::improvised::Die;
use crate::rehearsal::{Score, Tape, patch, watch};

const REST_S: f64 = 0.4;
const POLL_S: f64 = 0.008;

/// A wheel without worn ends or dead zones and with an even response: the gesture is the travel.
fn bare() -> Patch {
    let mut patch = patch("erhu", "perform");
    patch.hand.low = 0.0;
    patch.hand.high = 1.0;
    patch.hand.dead_zone_rest = 0.0;
    patch.hand.dead_zone_full = 0.0;
    patch.hand.response = Response::Exponential(0.0);
    patch
}

fn raised_cosine(share: f64) -> f64 {
    0.5 - 0.5 * libm::cos(std::f64::consts::PI * share.clamp(0.0, 1.0))
}

fn ramp(share: f64) -> f64 {
    share.clamp(0.0, 1.0)
}

/// The gesture at every tick, of a motion polled every 8 ms from `phase_s` on, seven bits.
fn follow(motion: impl Fn(f64) -> f64, phase_s: f64, end_s: f64) -> Vec<f64> {
    let score = Score::new().wheel_follows(phase_s, end_s, motion);
    let (views, _) = watch(&bare(), &score, end_s);
    views.iter().map(|view| view.gesture).collect()
}

/// The shift of the motion that fits the gesture best, in milliseconds, by least squares: first
/// among whole multiples of 8 ms, then ever finer about the best.
fn best_fit_ms(gesture: &[f64], motion: impl Fn(f64) -> f64) -> f64 {
    let misfit = |shift_ms: f64| -> f64 {
        let miss = |(tick, value): (usize, &f64)| {
            let apart = value - motion((tick as f64 - shift_ms) / 1000.0);
            apart * apart
        };
        gesture.iter().enumerate().map(miss).sum()
    };
    let best_about = |centre_ms: f64, step_ms: f64, reach: i32| {
        let shifts = (-reach..=reach).map(|place| centre_ms + f64::from(place) * step_ms);
        shifts.min_by(|a, b| misfit(*a).total_cmp(&misfit(*b))).expect("some shift")
    };
    let coarse_ms = best_about(60.0, 8.0, 12);
    [4.0, 2.0, 1.0, 0.5, 0.25].iter().fold(coarse_ms, |best, &step| best_about(best, step, 1))
}

fn check_lag(shape_name: &str, shape: fn(f64) -> f64, length_s: f64, most_ms: f64) {
    check_lag_over((0.0, 1.0), shape_name, shape, length_s, most_ms);
}

/// The same between two places of the travel.
fn check_lag_over(
    (low, high): (f64, f64),
    shape_name: &str,
    shape: fn(f64) -> f64,
    length_s: f64,
    most_ms: f64,
) {
    let mut worst_ms: f64 = 0.0;
    for phase in [0, 3, 6] {
        for falls in [false, true] {
            let motion = |now_s: f64| {
                let share = shape((now_s - REST_S) / length_s);
                low + (high - low) * if falls { 1.0 - share } else { share }
            };
            let phase_s = f64::from(phase) * 0.001;
            let gesture = follow(motion, phase_s, length_s + 2.0 * REST_S);
            let lag_ms = best_fit_ms(&gesture[20..], |s| motion(s + 0.020));
            worst_ms = worst_ms.max(lag_ms);
        }
    }
    println!("{shape_name} of {length_s} s over {low} to {high}: at most {worst_ms} ms behind");
    assert!(worst_ms <= most_ms, "{shape_name}, {length_s} s: {worst_ms} ms, allowed {most_ms}");
    assert!(worst_ms > 1.0, "{shape_name}, {length_s} s: {worst_ms} ms is no measurement");
}

#[test]
fn swells_lag_no_more_than_promised() {
    for (length_s, most_ms) in [(0.3, 12.0), (1.0, 20.0), (4.0, 80.0), (8.0, 80.0), (12.0, 80.0)] {
        check_lag("raised cosine", raised_cosine, length_s, most_ms);
    }
}

#[test]
fn straight_ramps_lag_no_more_than_promised() {
    for (length_s, most_ms) in [(0.3, 12.0), (1.0, 20.0), (4.0, 80.0), (8.0, 80.0), (12.0, 80.0)] {
        check_lag("ramp", ramp, length_s, most_ms);
    }
}

/// Its single steps come up to more than a second apart, and once waited for 0.25 s each: a swell of
/// a minute over two fifths of the travel was 216 ms late.
#[test]
fn slow_swells_lag_no_more_than_promised_over_a_part_of_the_travel_and_the_whole() {
    for span in [(0.0, 1.0), (0.3, 0.7)] {
        for length_s in [4.0, 15.0, 30.0, 60.0] {
            check_lag_over(span, "raised cosine", raised_cosine, length_s, 80.0);
            check_lag_over(span, "ramp", ramp, length_s, 80.0);
        }
    }
}

/// A hand that swells there and back, whose values come every 40 to 60 ms: how late the gesture is
/// (ms), and the largest change of its speed, steps of seven bits per 10 ms from one 10 ms to the next.
fn sparse(swell_s: f64, seed: u64) -> (f64, f64) {
    const END_S: f64 = 4.0;
    let mut die = Die(seed);
    let motion = |now_s: f64| 0.5 - 0.5 * libm::cos(std::f64::consts::PI * now_s / swell_s);
    let (mut score, mut now_s) = (Score::new(), 0.0);
    while now_s < END_S {
        score = score.wheel(now_s, (motion(now_s) * 127.0).round() as u8);
        now_s += die.between(0.04, 0.06);
    }
    let (views, _) = watch(&bare(), &score, END_S);
    // From 1 s on: by then the hand's interval is known.
    let gesture: Vec<f64> = views[1000..].iter().map(|view| view.gesture).collect();
    let lag_ms = best_fit_ms(&gesture, |now_s| motion(now_s + 1.0));
    let bend = |at: usize| gesture[at + 20] - 2.0 * gesture[at + 10] + gesture[at];
    let bends = (0..gesture.len() - 20).map(|at| 127.0 * bend(at).abs());
    (lag_ms, bends.fold(0.0, f64::max))
}

/// DESIGN 3: 12 and 20 ms, to which a slower source adds its own interval, here 50 ms. At the least
/// smoothing the changes of speed are 5.7, 3.4 and 1.5 steps.
#[test]
fn a_fast_hand_of_sparse_values_is_smooth_and_adds_its_own_interval() {
    for (swell_s, most_ms, most_steps) in [(0.3, 62.0, 4.0), (0.5, 64.0, 2.5), (1.0, 70.0, 1.1)] {
        let found: Vec<(f64, f64)> = (0..8).map(|seed| sparse(swell_s, seed)).collect();
        let lag_ms = found.iter().map(|(lag_ms, _)| *lag_ms).fold(0.0, f64::max);
        let steps = found.iter().map(|(_, steps)| *steps).fold(0.0, f64::max);
        println!("every 40 to 60 ms, {swell_s} s: {lag_ms} ms behind, {steps} steps per 10 ms");
        assert!(lag_ms <= most_ms && steps <= most_steps, "{swell_s} s: {lag_ms} ms, {steps}");
    }
}

#[test]
fn a_twelve_second_ramp_is_straight() {
    let motion = |now_s: f64| ramp((now_s - REST_S) / 12.0);
    let mut worst_steps: f64 = 0.0;
    for phase in 0..8 {
        let gesture = follow(motion, f64::from(phase) * 0.001, 13.0);
        // The middle, where the arm is neither taking off nor arriving.
        let even_steps = 127.0 * 0.010 / 12.0;
        for tick in 900..11_900 {
            let steps = 127.0 * (gesture[tick + 10] - gesture[tick]);
            worst_steps = worst_steps.max((steps - even_steps).abs());
        }
    }
    println!("12 s ramp: 10 ms are at most {worst_steps} of a 7-bit step from straight");
    assert!(worst_steps <= 0.1, "{worst_steps}");
}

/// What the wheel said, as travel, at each tick.
fn check_never_past(motion: impl Fn(f64) -> f64, end_s: f64) {
    let gesture = follow(&motion, 0.0, end_s);
    let polls: Vec<f64> = (0..=(end_s / POLL_S) as u32)
        .map(|poll| (motion(POLL_S * f64::from(poll)) * 127.0).round() / 127.0)
        .collect();
    let mut low = polls[0];
    let mut high = polls[0];
    for (tick, value) in gesture.iter().enumerate() {
        let heard = polls[(tick / 8).min(polls.len() - 1)];
        (low, high) = (low.min(heard), high.max(heard));
        assert!((low..=high).contains(value), "tick {tick}: {value} outside {low}..{high}");
    }
}

#[test]
fn the_gesture_never_goes_past_the_hand() {
    for seed in 0..40 {
        let mut die = Die(seed);
        let points: Vec<f64> = (0..12).map(|_| die.pick(&[0.0, 1.0, 0.5, 0.9, 0.1])).collect();
        let span_s = die.pick(&[0.008, 0.03, 0.1, 0.3]);
        let motion = |now_s: f64| points[((now_s / span_s) as usize).min(points.len() - 1)];
        check_never_past(motion, 12.0 * span_s + 0.4);
    }
}

#[test]
fn a_hand_that_only_rises_makes_a_gesture_that_only_rises() {
    for seed in 0..40 {
        let mut die = Die(seed);
        let mut level = 0.0;
        let levels: Vec<f64> = (0..300)
            .map(|_| {
                if die.below(3) == 0 {
                    level = f64::min(1.0, level + die.unit() * die.pick(&[0.01, 0.05, 0.5]));
                }
                level
            })
            .collect();
        let motion = |now_s: f64| levels[((now_s / POLL_S) as usize).min(levels.len() - 1)];
        let gesture = follow(motion, 0.0, 3.4);
        for pair in gesture.windows(2) {
            assert!(pair[1] >= pair[0], "seed {seed}: {} then {}", pair[0], pair[1]);
        }
        let miss = gesture[gesture.len() - 1] - (level * 127.0).round() / 127.0;
        assert!(miss.abs() < 1e-6, "seed {seed}: it arrives {miss} away");
    }
}

/// At 44.1 kHz tick 5 stands half a frame after its time, so an event of that very frame comes
/// later than the tick's own clock.
#[test]
fn a_movement_never_begins_before_its_event() {
    for rate_hz in [8_000.0, 44_100.0, 88_200.0] {
        for tick in 0..40 {
            let frame = (f64::from(tick) * rate_hz / 1000.0 + 0.5) as u64;
            let event_s = 1.0 + frame as f64 / rate_hz;
            let score = Score::new().gesture(0.0, 0.0).gesture(event_s, 1.0);
            let mut engine = Section::prepare(rate_hz, &bare());
            let mut last = 0.0;
            for (frame, timed) in score.timed(rate_hz) {
                engine.process(frame as u32, &[], &mut Tape::default());
                engine.process(0, &[timed], &mut Tape::default());
            }
            for _ in 0..200 {
                engine.process((rate_hz / 2000.0) as u32, &[], &mut Tape::default());
                let now = engine.view().gesture;
                assert!(now >= last, "{rate_hz} Hz, tick {tick}: {last}, then {now}");
                last = now;
            }
        }
    }
}

/// A fine pair, a bend wheel and a breath pipe say the same again and again.
#[test]
fn a_value_that_is_repeated_is_reached_all_the_same() {
    let mut bare = bare();
    bare.hand.source = Source::ControllerPair(1);
    let mut score = Score::new();
    for poll in 0..100 {
        // Polled a little faster than the engine expects at first.
        let value = if poll < 2 { 127 } else { 0 };
        let now_s = 0.1 + 0.008 * f64::from(poll);
        score = score.controller(now_s, 1, value).controller(now_s, 33, value);
    }
    let (views, _) = watch(&bare, &score, 1.0);
    let last = views.iter().rposition(|view| view.gesture > 0.0);
    assert!(last.is_some_and(|tick| (120..350).contains(&tick)), "the last is {last:?}");
}
