//! Few messages, and none too many: against the fewest that could have done, and a real cable.

use crate::rehearsal::{RATE_HZ, Score, Sent, output, patch, perform, watch};
use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, OutputPatch, Patch};
use polso_engine::{Layer, Message, Origin};

/// The exact number comes within 20 ms of settling.
const SETTLED_TICKS: usize = 20;

/// A patch with one output alone, thinned to a bound, on a channel that carries everything.
fn thinned(layer: Layer, address: Address, bound: f64) -> Patch {
    let mut patch = patch("erhu", "perform");
    let number = output(layer, address, 0.0, 1.0);
    patch.target.outputs[0] = OutputPatch { error_bound: bound, ..number };
    patch.target.output_count = 1;
    patch.target.messages_per_s = 10_000.0;
    patch.target.burst_messages = 1_000.0;
    patch
}

/// The fewest whole numbers, each held for a while, that stay within the bound of every value, and
/// say it exactly where it has stood for `settled_ticks`: each is held for as long as one can be
/// (Elmeleegy et al. 2009, PVLDB 2(1), piecewise constant).
fn fewest(values: &[f64], bound: f64, settled_ticks: usize) -> usize {
    let (mut count, mut still_ticks) = (0, 0);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (tick, value) in values.iter().enumerate() {
        let stands = tick > 0 && values[tick - 1] == *value;
        still_ticks = if stands { still_ticks + 1 } else { 0 };
        let (least, most) = match still_ticks >= settled_ticks {
            true => (value.round(), value.round()),
            false => ((value - bound).ceil(), (value + bound).floor()),
        };
        assert!(least <= most, "a bound of half a step or more always holds a whole number");
        (low, high) = (low.max(least), high.min(most));
        if low > high {
            (low, high) = (least, most);
            count += 1;
        }
    }
    count
}

/// The true number at each tick, the number held there, and how many were sent in the span.
fn held(
    patch: &Patch,
    score: &Score,
    span_s: (f64, f64),
    exact: impl Fn(&polso_engine::View) -> f64,
) -> (Vec<f64>, Vec<f64>, usize) {
    let (views, sent) = watch(patch, score, span_s.1);
    let layer = Origin::Layer(patch.target.outputs[0].layer);
    let numbers = sent.iter().filter(|sent| sent.origin == layer).filter_map(number);
    let numbers: Vec<(u64, f64)> = numbers.collect();
    let first = (span_s.0 * 1000.0) as usize;
    let held = (first..views.len()).map(|tick| {
        let frame = tick as u64 * 48;
        numbers.iter().rev().find(|(at, _)| *at <= frame).expect("a number from the start").1
    });
    let held: Vec<f64> = held.collect();
    let count = 1 + held.windows(2).filter(|pair| pair[0] != pair[1]).count();
    // The swing stands from step to step, as often as the pitch goes out.
    let step_ticks = (patch.target.outputs[0].interval_s * 1000.0).round() as usize;
    let values = (first..views.len()).map(|tick| exact(&views[tick - tick % step_ticks]));
    (values.collect(), held, count)
}

/// The whole number of a pair's fine half or of a bend.
fn number(sent: &Sent) -> Option<(u64, f64)> {
    thread_local!(static COARSE: std::cell::Cell<u8> = const { std::cell::Cell::new(0) });
    let value = match sent.message {
        Message::PitchBend { value, .. } => f64::from(value),
        Message::Controller { number, value, .. } if number < 32 => {
            COARSE.set(value);
            return None;
        }
        Message::Controller { value, .. } => f64::from(COARSE.get()) * 128.0 + f64::from(value),
        _ => return None,
    };
    Some((sent.frame, value))
}

/// Never out of the bound, and at most so many times the fewest, with all that is sent: of the
/// gesture over so many steps, or of the pitch.
fn check(
    name: &str,
    patch: &Patch,
    score: &Score,
    span_s: (f64, f64),
    gesture_steps: Option<f64>,
    ratio_max: f64,
) {
    let bound = patch.target.outputs[0].error_bound;
    let exact = |view: &polso_engine::View| match gesture_steps {
        Some(steps) => view.gesture * steps,
        None => 8192.0 + view.pitch_cents / 200.0 * 8192.0,
    };
    let (values, held, count) = held(patch, score, span_s, exact);
    let worst = values.iter().zip(&held).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(worst <= bound + 1e-6, "{name}: {worst} steps off, bound {bound}");
    let fewest = fewest(&values, bound, SETTLED_TICKS);
    let ratio = count as f64 / fewest as f64;
    println!("{name}: {count} sent, {fewest} at the fewest, ratio {ratio:.3}");
    assert!(fewest >= 10, "{name}: too little motion to judge");
    assert!(ratio <= ratio_max, "{name}: {count} sent, {fewest} would do");
}

#[test]
fn the_offline_optimum_agrees_with_published_counts() {
    // REFERENCE 6, ramp 0..127: bound 0.5 / 1 / 2 / 4 steps need 64 / 43 / 26 / 15 numbers.
    let ramp: Vec<f64> = (0..=127).map(f64::from).collect();
    for (bound, count) in [(0.5, 128), (1.0, 43), (2.0, 26), (4.0, 15)] {
        // With whole numbers a bound of half a step has room for one value only.
        assert_eq!(fewest(&ramp, bound, usize::MAX), count, "bound {bound}");
    }
}

#[test]
fn a_swell_takes_few_more_numbers_than_the_fewest() {
    for (seconds, bound) in [(1.0, 100.0), (2.0, 60.0), (4.0, 130.0), (8.0, 64.0)] {
        let patch = thinned(Layer::Gesture, Address::ControllerPair(2), bound);
        let mut score = Score::new().gesture(0.0, 0.05);
        for poll in 0..=(seconds * 250.0) as u32 {
            let share = f64::from(poll) / (seconds * 250.0);
            let swell = 0.5 - 0.5 * libm::cos(core::f64::consts::TAU * share);
            score = score.gesture(0.5 + f64::from(poll) * 0.004, 0.05 + 0.9 * swell);
        }
        let name = format!("swell of {seconds} s, bound {bound}");
        check(&name, &patch, &score, (0.4, seconds + 1.5), Some(16_383.0), 1.10);
    }
}

#[test]
fn a_vibrato_takes_few_more_bends_than_the_fewest() {
    for (gesture, bound) in [(0.5, 205.0), (0.6, 300.0), (0.95, 400.0)] {
        // Steps of 5 ms are so coarse that the turn is seen late.
        for (interval_s, ratio_max) in [(0.001, 1.10), (0.005, 1.20)] {
            let mut patch = thinned(Layer::Pitch, Address::PitchBend, bound);
            patch.target.outputs[0].interval_s = interval_s;
            let score = Score::new().gesture(0.0, gesture).note(0.1, 6.0, 72);
            let name = format!("vibrato at {gesture} every {interval_s} s, bound {bound}");
            check(&name, &patch, &score, (1.0, 5.5), None, ratio_max);
        }
    }
}

/// The numbers of the output in a span, each with its millisecond: never out of the bound, and as
/// few as do.
fn check_numbers(
    patch: &Patch,
    score: &Score,
    span_s: (f64, f64),
    exact: impl Fn(&polso_engine::View) -> f64,
    expected: &[u16],
) {
    let bound = patch.target.outputs[0].error_bound;
    let (values, held, _) = held(patch, score, span_s, exact);
    let worst = values.iter().zip(&held).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(worst <= bound + 1e-6, "{worst} steps off");
    let mut said: Vec<u16> = held.iter().map(|number| *number as u16).collect();
    said.dedup();
    assert_eq!(said, expected);
    assert_eq!(said.len(), fewest(&values, bound, SETTLED_TICKS));
}

/// A lift of 16 steps by steps of twice the bound, and the last one says the end.
#[test]
fn an_ambience_is_told_in_as_few_numbers_as_its_way_is_long() {
    let mut patch = thinned(Layer::Send, Address::Controller(91), 2.0);
    patch.tail.lift = 16.0 / 127.0;
    let score = Score::new().gesture(0.0, 0.5).note(0.1, 2.0, 72);
    let exact = |view: &polso_engine::View| 127.0 * view.send;
    check_numbers(&patch, &score, (0.5, 6.0), exact, &[0, 4, 8, 12, 16, 12, 8, 4, 0]);
}

/// An accent leaps up and dies, a tail falls: the first number of each already leads downwards.
#[test]
fn an_accent_and_a_tail_are_told_on_the_way_that_they_go() {
    let mut patch = thinned(Layer::Dynamics, Address::Controller(70), 2.0);
    let dynamics = &mut patch.dynamics;
    (dynamics.floor, dynamics.ceiling, dynamics.accent) = (0.0, 1.0, 0.12);
    (dynamics.span_db, dynamics.curve) = (60.0, Curve::identity());
    (patch.tail.tail_s, patch.tail.tail_db) = (0.26, 18.0);
    let hard = crate::music::strike(72, 127);
    let score = Score::new().gesture(0.0, 0.6).message(1.0, hard).off(3.0, 72);
    let span_db = patch.dynamics.span_db;
    let exact = |view: &polso_engine::View| {
        127.0 * (view.dynamics + 20.0 * libm::log10(view.expression) / span_db).max(0.0)
    };
    let expected = [76, 90, 86, 82, 78, 76, 72, 68, 64, 60, 56, 52, 48, 44, 40, 38];
    check_numbers(&patch, &score, (0.5, 3.4), exact, &expected);
}

#[test]
fn the_exact_number_comes_within_twenty_milliseconds_of_rest() {
    let patch = thinned(Layer::Gesture, Address::ControllerPair(2), 200.0);
    let mut score = Score::new().gesture(0.0, 0.1);
    for poll in 0..=100_u32 {
        score = score.gesture(0.5 + f64::from(poll) * 0.004, 0.1 + 0.006 * f64::from(poll));
    }
    let (views, sent) = watch(&patch, &score, 3.0);
    let last = views.last().expect("views").gesture;
    let settled_ms = views.iter().position(|view| view.gesture == last).expect("it settles");
    let numbers: Vec<(u64, f64)> = sent.iter().filter_map(number).collect();
    let &(frame, value) = numbers.last().expect("numbers");
    assert_eq!(value, (last * 16_383.0).round());
    let late_ms = frame as f64 / 48.0 - settled_ms as f64;
    assert!((0.0..=20.0).contains(&late_ms), "exact {late_ms} ms after settling");
}

/// Near full a number once led the motion to 128, which seven bits turn into 0.
#[test]
fn a_number_that_leads_never_goes_beyond_the_ends() {
    for (min, max) in [(0, 127), (10, 110), (64, 127)] {
        for bound in [2.0, 2.5, 3.0, 4.5, 6.0] {
            check_ends(min, max, bound);
        }
    }
}

/// The style moves straight to the last of the list and back, without slowing before the end.
fn check_ends(min: u16, max: u16, bound: f64) {
    let mut patch = thinned(Layer::Style, Address::Controller(70), bound);
    (patch.target.outputs[0].min, patch.target.outputs[0].max) = (min, max);
    let mut score = Score::new().gesture(0.0, 0.0).on(0.1, 72);
    for jump in 0..8_u32 {
        let goal = if jump % 2 == 0 { 1.0 } else { 0.0 };
        score = score.gesture(1.0 + f64::from(jump) * 1.1037, goal);
    }
    let (views, sent) = watch(&patch, &score, 11.0);
    let number = |sent: &Sent| match sent.message {
        Message::Controller { number: 70, value, .. } => Some((sent.frame, u16::from(value))),
        _ => None,
    };
    let numbers: Vec<(u64, u16)> = sent.iter().filter_map(number).collect();
    let all: Vec<u16> = numbers.iter().map(|(_, number)| *number).collect();
    assert!(all.iter().all(|number| (min..=max).contains(number)), "{bound}: {all:?}");
    assert!(all.contains(&max) && all.ends_with(&[min]), "{bound}: {all:?}");
    let last = (patch.vibrato.style_count - 1) as f64;
    for (frame, number) in numbers {
        // The tick of the number: the style moves every 5 ms, and the view is as new.
        let near = views[(frame / 48) as usize..].iter().take(6);
        let place = |(place, weight): (usize, &f64)| place as f64 * weight;
        let position = |view: &polso_engine::View| {
            view.weights.iter().enumerate().map(place).sum::<f64>() / last
        };
        let off = |view| {
            (f64::from(min) + f64::from(max - min) * position(view) - f64::from(number)).abs()
        };
        let least = near.map(off).fold(f64::INFINITY, f64::min);
        assert!(least <= bound + 0.01, "{min} to {max}, bound {bound}: {number} is {least} off");
    }
}

/// Everything moves at once: fast notes, a wild wheel, performed vibrato, all outputs.
fn storm(messages_per_s: f64) -> (Patch, Score) {
    let mut patch = patch("erhu", "generic");
    let count = patch.target.output_count;
    patch.target.outputs[count] = OutputPatch {
        layer: Layer::Pitch,
        address: Address::PitchBend,
        interval_s: 0.001,
        priority: 0,
        ..patch.target.outputs[0]
    };
    patch.target.output_count = count + 1;
    for output in &mut patch.target.outputs[..=count] {
        output.interval_s = 0.001;
    }
    patch.target.messages_per_s = messages_per_s;
    let wild = |seconds: f64| 0.5 - 0.5 * libm::cos(9.0 * seconds);
    let mut score = Score::new().wheel_follows(0.0, 8.0, wild);
    for note in 0..40_u32 {
        let on_s = 0.2 * f64::from(note);
        score = score.note(on_s, on_s + 0.21, 64 + (note * 5 % 20) as u8);
    }
    (patch, score)
}

#[test]
fn a_five_pin_cable_is_never_overrun() {
    let (patch, score) = storm(250.0);
    let sent = perform(&patch, RATE_HZ, &[64], &score, 9.0);
    // MIDI 1.0: 31,250 baud, ten bits a byte, so 3,125 bytes a second; no running status.
    let mut owed_bytes = 0.0_f64;
    let mut worst_bytes = 0.0_f64;
    let mut frame = 0;
    for one in &sent {
        owed_bytes = (owed_bytes - (one.frame - frame) as f64 / RATE_HZ * 3125.0).max(0.0);
        frame = one.frame;
        owed_bytes += one.message.bytes().1 as f64;
        worst_bytes = worst_bytes.max(owed_bytes);
    }
    println!("at most {worst_bytes:.0} bytes wait, {:.1} ms", worst_bytes / 3.125);
    // The burst of 40 messages, and what a note-on must send besides.
    assert!(worst_bytes <= 3.0 * (40.0 + 10.0), "{worst_bytes} bytes wait");
    assert!(sent.len() as f64 <= 9.0 * 250.0 + 40.0 + 40.0 * 10.0, "{} messages", sent.len());
}

#[test]
fn what_waits_is_counted_and_the_pitch_goes_first() {
    let score = storm(400.0).1;
    let count = |messages_per_s: f64| {
        let (patch, _) = storm(messages_per_s);
        let mut engine = polso_engine::Section::prepare(RATE_HZ, &patch);
        let sent = crate::rehearsal::perform_on(&mut engine, RATE_HZ, &[256], &score, 9.0);
        let of = |layer| sent.iter().filter(|one| one.origin == Origin::Layer(layer)).count();
        (engine.losses().late_values, of(Layer::Pitch), of(Layer::VibratoRate))
    };
    let (late_free, pitch_free, rate_free) = count(10_000.0);
    let (late, pitch, rate) = count(400.0);
    println!(
        "late {late_free} and {late}, pitch {pitch_free} and {pitch}, rate {rate_free} and {rate}"
    );
    assert_eq!(late_free, 0);
    assert!(late > 0, "a busy channel makes numbers wait");
    assert!(rate * pitch_free < pitch * rate_free, "the rate gives way before the pitch");
}
