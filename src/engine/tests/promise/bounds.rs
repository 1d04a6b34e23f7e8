//! Whatever the files and the player ask for, every value stays a number within its range.

use polso_engine::View;
use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, FirstMovement, OpenPolicy, Patch, Response};
use polso_engine::{Input, Layer, Message, Origin, Parameter};

use super::improvised::{Die, improvise};
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, patch, perform, watch};

/// A curve over 0..=1 that runs wild between two bounds.
fn wild_curve(die: &mut Die, low: f64, high: f64) -> Curve {
    let count = 2 + die.below(15) as usize;
    let points: Vec<(f64, f64)> = (0..count)
        .map(|place| {
            let between = die.between(low, high);
            (place as f64 / (count - 1) as f64, die.pick(&[low, high, between]))
        })
        .collect();
    Curve::through(&points).expect("rising points")
}

/// Fields at the ends of what the files allow.
fn push_to_the_ends(die: &mut Die, patch: &mut Patch) {
    let hand = &mut patch.hand;
    (hand.low, hand.high) = die.pick(&[(0.0, 1.0), (0.0, 0.1), (0.9, 1.0), (0.02, 0.98)]);
    hand.dead_zone_rest = die.pick(&[0.0, 0.4]);
    hand.dead_zone_full = die.pick(&[0.0, 0.4]);
    hand.rest = die.pick(&[0.0, 1.0]);
    hand.weight = die.pick(&[0.5, 3.0]);
    hand.is_inverted = die.below(2) == 0;
    hand.is_breath = die.below(2) == 0;
    let k = die.pick(&[-6.0, -1e-300, 0.0, 1e-12, 6.0]);
    hand.response = match die.below(2) {
        0 => Response::Exponential(k),
        _ => Response::Points(wild_curve(die, 0.0, 1.0)),
    };
    let dynamics = &mut patch.dynamics;
    (dynamics.floor, dynamics.ceiling) = die.pick(&[(0.0, 1.0), (0.0, 0.0), (1.0, 1.0)]);
    dynamics.curve = wild_curve(die, 0.0, 1.0);
    dynamics.accent = die.pick(&[0.0, 1.0]);
    dynamics.span_db = die.pick(&[3.0, 90.0]);
    dynamics.velocity_share = die.pick(&[0.0, 1.0]);
    let vibrato = &mut patch.vibrato;
    for style in &mut vibrato.styles {
        style.width_cents = wild_curve(die, 0.0, 400.0);
        style.rate_hz = wild_curve(die, 2.0, 9.0);
        style.share_above = die.pick(&[0.0, 1e-300, 0.5, 1.0 - 1e-16, 1.0]);
        style.sharpness = die.pick(&[1.0, 1.3, 2.0]);
        style.level_swing_db = die.pick(&[0.0, 12.0]);
        style.centre = die.pick(&[0.0, 1.0]);
    }
    vibrato.style_count = 1 + die.below(4) as usize;
    vibrato.edges = die
        .pick(&[[(0.0, 0.01), (0.01, 0.02), (0.02, 1.0)], [(0.1, 0.3), (0.72, 0.92), (0.95, 1.0)]]);
    vibrato.quick_through = die.pick(&[1.0, 6.0]);
    vibrato.onset_s = die.pick(&[0.0, 3.0]);
    vibrato.growth_s = die.pick(&[0.01, 5.0]);
    vibrato.join_keep = die.pick(&[0.0, 1.0]);
    vibrato.join_recover_s = die.pick(&[0.01, 3.0]);
    vibrato.register_per_semitone = die.pick(&[-0.1, 0.1]);
    vibrato.first_movement = die.pick(&[FirstMovement::Up, FirstMovement::Down]);
    vibrato.settle_s = die.pick(&[0.001, 5.0]);
    vibrato.arch = die.pick(&[0.0, 0.15]);
    vibrato.brightness_swing = die.pick(&[0.0, 1.0]);
    vibrato.rate_spread = die.pick(&[0.0, 0.16]);
    vibrato.width_spread = die.pick(&[0.0, 0.25]);
    patch.legato.edges = die.pick(&[[0.0, 0.01, 0.02], [0.98, 0.99, 1.0]]);
    patch.legato.hysteresis = die.pick(&[0.0, 0.005]);
    patch.legato.join_gap_s = die.pick(&[0.0, 0.03]);
    patch.legato.slide_max_semitones = die.pick(&[0, 48]);
    patch.legato.slide_s = die.pick(&[0.02, 2.0]);
    patch.strings.forced_open_keys = u128::from(die.bits()) << 40;
    patch.strings.policy = die.pick(&[OpenPolicy::Stopped, OpenPolicy::Open, OpenPolicy::Auto]);
    patch.tail.tail_s = die.pick(&[0.0, 2.0]);
    patch.tail.tail_db = die.pick(&[0.0, 60.0]);
    patch.tail.lift = die.pick(&[0.0, 1.0]);
    patch.target.bend_range_semitones = die.pick(&[1.0, 96.0]);
    for output in &mut patch.target.outputs[..patch.target.output_count] {
        output.interval_s = die.pick(&[0.001, 0.02, 1.0]);
        let most = output.address.raw_max();
        if output.layer != Layer::Pitch {
            (output.min, output.max) = die.pick(&[(0, most), (most, most), (0, 0), (3, most / 2)]);
            output.rest = output.min;
        }
    }
}

/// A number, not too small to be one, between two bounds.
fn check_value(what: &str, value: f64, low: f64, high: f64) {
    let is_whole = value == 0.0 || value.is_normal();
    assert!(
        is_whole && (low..=high).contains(&value),
        "{what}: {value:e}, allowed {low} to {high}"
    );
}

fn check_view(what: &str, view: &View) {
    check_value(&format!("{what}: gesture"), view.gesture, 0.0, 1.0);
    check_value(&format!("{what}: dynamics"), view.dynamics, 0.0, 1.0);
    check_value(&format!("{what}: expression"), view.expression, 0.0, 1.0);
    check_value(&format!("{what}: width"), view.width_cents, 0.0, 400.0 * 2.0 * 1.6);
    check_value(&format!("{what}: rate"), view.rate_hz, 0.999_999, 18.000_001);
    // Twice 0.20 of unevenness, and at most the whole mean taken off.
    let most_cents = 1.4 * view.width_cents + 1e-9;
    check_value(&format!("{what}: pitch"), view.pitch_cents, -most_cents, most_cents);
    check_value(&format!("{what}: send"), view.send, 0.0, 1.0);
    let sum: f64 = view.weights.iter().sum();
    check_value(&format!("{what}: weights"), sum, 1.0 - 1e-9, 1.0 + 1e-9);
    for weight in view.weights {
        assert!((-1e-12..=1.0 + 1e-12).contains(&weight), "{what}: weight {weight}");
    }
    if let Some(raw) = view.raw {
        check_value(&format!("{what}: raw"), raw, 0.0, 1.0);
    }
}

/// The raw value that a layer's message carries, if it is a whole one: of a pair the fine half.
fn raw_of(address: Address, message: Message, coarse: &mut u16) -> Option<u16> {
    match (address, message) {
        (Address::Controller(own), Message::Controller { number, value, .. }) if own == number => {
            Some(u16::from(value))
        }
        (Address::ControllerPair(own), Message::Controller { number, value, .. }) => {
            pair(number, value, (own, own + 32), coarse)
        }
        (
            Address::Registered(_) | Address::NonRegistered(_),
            Message::Controller { number, value, .. },
        ) => pair(number, value, (6, 38), coarse),
        (Address::ChannelPressure, Message::ChannelPressure { value, .. })
        | (Address::PolyPressure, Message::PolyPressure { value, .. })
        | (Address::Program, Message::Program { program: value, .. }) => Some(u16::from(value)),
        (Address::PitchBend, Message::PitchBend { value, .. }) => Some(value),
        _ => None,
    }
}

fn pair(number: u8, value: u8, (high, low): (u8, u8), coarse: &mut u16) -> Option<u16> {
    if number == high {
        *coarse = u16::from(value) << 7;
    }
    (number == low).then_some(*coarse | u16::from(value))
}

fn check_outputs(what: &str, patch: &Patch, sent: &[Sent]) -> usize {
    let mut count = 0;
    for output in &patch.target.outputs[..patch.target.output_count] {
        let mut coarse = 0;
        for sent in sent.iter().filter(|sent| sent.origin == Origin::Layer(output.layer)) {
            if let Some(raw) = raw_of(output.address, sent.message, &mut coarse) {
                let range = output.min..=output.max;
                assert!(range.contains(&raw), "{what}: {:?} sends {raw}", output.address);
                count += 1;
            }
        }
    }
    let in_seven = |byte: &u8| *byte < 128;
    assert!(sent.iter().all(|sent| sent.message.bytes().0[1..].iter().all(in_seven)), "{what}");
    count
}

#[test]
fn the_ends_of_every_range_keep_every_value_in_its_range() {
    let mut count = 0;
    for seed in 0..40 {
        for (name, mut patch) in receivers::all() {
            let mut die = Die(seed);
            push_to_the_ends(&mut die, &mut patch);
            let what = format!("{name}, seed {seed}");
            let score = improvise(seed, &receivers::manner(&patch, 3.0, 0.0));
            let (views, sent) = watch(&patch, &score, 4.0);
            views.iter().for_each(|view| check_view(&what, view));
            count += check_outputs(&what, &patch, &sent);
        }
    }
    assert!(count > 20_000, "{count} outputs are not many");
}

#[test]
fn no_number_that_a_host_could_send_gets_past_the_door() {
    let strange =
        [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -0.0, -1.0, 5e-324, 1e300, -1e300, f64::MAX];
    for (name, patch) in receivers::all() {
        let mut score = Score::new().on(0.0, 74);
        for (place, &value) in strange.iter().enumerate() {
            let now_s = 0.1 + 0.4 * place as f64;
            score = score.gesture(now_s, value).gesture(now_s + 0.1, 0.9);
            for knob in Parameter::ALL {
                score = score.at(now_s + 0.2, Input::Parameter(knob, value));
            }
            for song in [(value, 120.0), (1.0, value), (value, value)] {
                let (beat, tempo_bpm) = song;
                score = score.at(now_s + 0.3, Input::Song { beat, tempo_bpm, running: true });
            }
            score = score.on(now_s + 0.31, 70 + place as u8).off(now_s + 0.39, 70 + place as u8);
        }
        let (views, sent) = watch(&patch, &score, 4.5);
        views.iter().for_each(|view| check_view(name, view));
        check_outputs(name, &patch, &sent);
    }
}

/// The door itself: what is no number is rest, and beyond the end is the end.
#[test]
fn a_gesture_that_is_no_number_is_rest() {
    for (value, expected) in
        [(f64::NAN, 0.0), (f64::NEG_INFINITY, 0.0), (f64::INFINITY, 1.0), (7.0, 1.0)]
    {
        let score = Score::new().gesture(0.1, 0.5).gesture(0.5, value);
        let (views, _) = watch(&patch("erhu", "perform"), &score, 1.5);
        assert_eq!(views[1_500].gesture, expected, "{value}");
    }
}

#[test]
fn events_out_of_order_or_beyond_the_block_are_still_taken() {
    use polso_engine::Section;
    use polso_engine::Timed;
    let on = |frame, key| Timed {
        frame,
        tag: u32::from(key),
        input: Input::Midi(Message::NoteOn { channel: 0, key, velocity: 64 }),
    };
    let mut engine = Section::prepare(RATE_HZ, &patch("violin", "perform"));
    let mut tape = crate::rehearsal::Tape::default();
    engine.process(100, &[on(50, 70), on(10, 72), on(4_000_000_000, 74), on(7, 76)], &mut tape);
    let notes = tape.sent.iter().filter_map(|sent| match sent.message {
        Message::NoteOn { key, .. } => Some((sent.frame, key)),
        _ => None,
    });
    assert_eq!(notes.collect::<Vec<_>>(), [(50, 70), (50, 72), (99, 74), (99, 76)]);
}

#[test]
fn a_crowd_of_events_in_one_frame_loses_no_note() {
    let mut score = Score::new();
    for key in 0..30 {
        for _ in 0..5 {
            score = score.controller(1.0, 7, key).on(1.0, 40 + key).off(1.0, 40 + key);
        }
    }
    let sent = perform(&patch("violin", "perform"), RATE_HZ, &[64], &score, 2.0);
    assert_eq!(super::notes::sounding("crowd", &sent), []);
    let ons = sent.iter().filter(|sent| matches!(sent.message, Message::NoteOn { .. })).count();
    assert_eq!(ons, 150);
}
