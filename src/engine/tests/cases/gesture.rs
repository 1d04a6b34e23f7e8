//! From the controller to the gesture: unknown, first, inverted, paired, live over recorded, and
//! what a release of pressure or breath means.

use crate::music::{at, bare};
use crate::rehearsal::{Score, watch};
use polso_engine::Mode;
use polso_engine::patch::{Patch, Response, Source};
use polso_engine::reason::Reason;
use polso_engine::{Input, Message};

/// The gesture at these times.
fn check(sentence: &str, patch: &Patch, score: &Score, gestures: &[(f64, f64)]) {
    let (views, _) = watch(patch, score, gestures.last().expect("a time").0);
    for &(at_s, gesture) in gestures {
        let found = at(&views, at_s).gesture;
        assert!((found - gesture).abs() < 1e-6, "{sentence}: {found} at {at_s} s, not {gesture}");
    }
}

/// A violin under this controller, without dead zones or bends of its response.
fn under(source: Source) -> Patch {
    let mut patch = bare("violin", "perform");
    patch.hand.source = source;
    patch
}

fn wheel() -> Patch {
    under(Source::Controller(1))
}

fn pressure(value: u8) -> Message {
    Message::ChannelPressure { channel: 0, value }
}

#[test]
fn a_wheel_is_unknown_at_rest_until_it_moves() {
    let score = Score::new().on(1.0, 64).wheel(2.0, 64);
    let (views, _) = watch(&wheel(), &score, 3.0);
    assert_eq!((at(&views, 1.9).raw, at(&views, 1.9).gesture), (None, 0.0));
    assert_eq!(at(&views, 1.9).vibrato_reason, Reason::GestureUnknown);
    assert_eq!(at(&views, 2.0).raw, Some(64.0 / 127.0));
    // A hand may rest elsewhere, a pedal half way, and this is not yet a movement.
    let mut pedal = wheel();
    pedal.hand.rest = 0.5;
    check("a pedal", &pedal, &Score::new().on(1.0, 64), &[(0.5, 0.5), (2.0, 0.5)]);
}

#[test]
fn a_first_value_is_taken_at_once_in_silence() {
    let score = Score::new().wheel(1.0, 127);
    check("silence", &wheel(), &score, &[(0.999, 0.0), (1.0, 1.0), (2.0, 1.0)]);
}

#[test]
fn a_first_value_glides_in_under_a_note() {
    // 0.15 s along the smooth step: a fifth 0.104, half 0.5.
    let score = Score::new().on(0.5, 64).wheel(1.0, 127);
    let gestures = [(1.0, 0.0), (1.03, 0.104), (1.075, 0.5), (1.15, 1.0), (2.0, 1.0)];
    check("under a note", &wheel(), &score, &gestures);
    // A tail still sounds: its note was released at 1 s and ends at 1.26 s.
    let score = Score::new().note(0.0, 1.0, 64).wheel(1.1, 127);
    check("in a tail", &wheel(), &score, &[(1.1, 0.0), (1.175, 0.5), (1.25, 1.0)]);
}

#[test]
fn later_values_arrive_with_the_first() {
    // 127 at 1 s and 64 at 1.02 s: what arrives at 1.15 s is the later one, 64/127 = 0.503937.
    let score = Score::new().on(0.5, 64).wheel(1.0, 127).wheel(1.02, 64);
    check("two values", &wheel(), &score, &[(1.0, 0.0), (1.3, 0.503_937)]);
    let (views, _) = watch(&wheel(), &score, 1.3);
    let highest = views.iter().map(|view| view.gesture).fold(0.0, f64::max);
    assert!(highest < 0.52, "it never went up to the first: {highest}");
}

#[test]
fn low_high_and_dead_zones_make_the_travel() {
    // Low 0.02, high 0.98, dead zones 0.02 and 0.01: 64/127 = 0.503937 is 0.504101 of the range
    // and (0.504101 − 0.02)/0.97 = 0.499073 of the travel. Both rails stay within reach: 4/127 is
    // 0.0120 of the range, 124/127 0.9963.
    let patch = crate::rehearsal::patch("violin", "perform");
    for (value, gesture) in [(0, 0.0), (4, 0.0), (64, 0.499_073), (124, 1.0), (127, 1.0)] {
        check(&format!("raw {value}"), &patch, &Score::new().wheel(1.0, value), &[(1.5, gesture)]);
    }
}

#[test]
fn an_inverted_controller_is_full_at_zero() {
    let mut patch = wheel();
    patch.hand.is_inverted = true;
    for (value, gesture) in [(0, 1.0), (127, 0.0), (100, 27.0 / 127.0)] {
        check(&format!("raw {value}"), &patch, &Score::new().wheel(1.0, value), &[(1.5, gesture)]);
    }
}

#[test]
fn the_response_bends_the_travel() {
    // (e^{kx} − 1)/(e^k − 1) at x = 0.5: pedal k 1, breath −0.5, pressure 1.5.
    for (k, gesture) in [(0.0, 0.5), (1.0, 0.377_541), (-0.5, 0.562_177), (1.5, 0.320_821)] {
        let mut patch = wheel();
        patch.hand.response = Response::Exponential(k);
        check(&format!("k {k}"), &patch, &Score::new().gesture(1.0, 0.5), &[(1.5, gesture)]);
    }
}

#[test]
fn a_pair_is_one_value_of_fourteen_bits() {
    // MIDI 1.0: CC 1 is the coarse half, CC 33 the fine one; a new coarse value zeroes the fine.
    // 64·128/16383 = 0.500031, with 127 more 0.507782, 65·128/16383 = 0.507844.
    let patch = under(Source::ControllerPair(1));
    let both = Score::new().controller(1.0, 1, 64).controller(1.0, 33, 127);
    check("both at one time", &patch, &both, &[(1.0, 0.507_782), (1.5, 0.507_782)]);
    let coarse = both.controller(2.0, 1, 65);
    check("a new coarse value", &patch, &coarse, &[(2.5, 0.507_844)]);
    let fine = coarse.controller(3.0, 33, 100);
    check("a new fine value", &patch, &fine, &[(3.5, 0.513_947)]); // 8420/16383
    let alone = Score::new().controller(1.0, 1, 64);
    check("the coarse half alone", &patch, &alone, &[(1.5, 0.500_031)]);
}

#[test]
fn every_source_is_a_gesture() {
    // Half of seven bits is 64/127 = 0.503937; of the bend wheel 8192/16383 = 0.500031.
    let poly = |key| Message::PolyPressure { channel: 0, key, value: 64 };
    for (source, message, gesture) in [
        (Source::Controller(11), crate::music::controller(11, 64), 0.503_937),
        (Source::Controller(11), crate::music::controller(1, 64), 0.0),
        (Source::ChannelPressure, pressure(64), 0.503_937),
        (Source::PitchBend, crate::music::bend(8192), 0.500_031),
        (Source::PolyPressure, poly(64), 0.503_937),
        (Source::PolyPressure, poly(65), 0.0), // not the held key
        (Source::MpeTimbre, crate::music::controller(74, 64), 0.503_937),
        (Source::MpePressure, pressure(64), 0.503_937),
    ] {
        let score = Score::new().on(0.5, 64).message(1.0, message);
        check(&format!("{source:?} {message:?}"), &under(source), &score, &[(2.0, gesture)]);
    }
}

#[test]
fn the_source_is_consumed_unless_told_to_pass() {
    let count = |patch: &Patch| {
        let (_, sent) = watch(patch, &Score::new().wheel(1.0, 64), 2.0);
        crate::music::said(&sent, 1).len()
    };
    let mut passing = wheel();
    passing.hand.source_passes = true;
    assert_eq!((count(&wheel()), count(&passing)), (0, 1));
}

#[test]
fn the_last_touched_wins_and_the_recorded_returns_after_live_silence() {
    // Recorded 0.8; the wheel goes to 0 at 2 s; 0.3 s later the recorded gesture returns.
    let score = Score::new().gesture(0.0, 0.8).wheel(2.0, 0);
    let gestures = [(1.9, 0.8), (2.299, 0.0), (3.0, 0.8)];
    let live = |score: &Score, sentence: &str, gestures: &[(f64, f64)]| {
        let (views, _) = watch(&wheel(), score, 4.0);
        for &(at_s, gesture) in gestures {
            // A tenth of a second of smoothing is no part of this.
            let found = at(&views, at_s).gesture;
            assert!((found - gesture).abs() < 0.01, "{sentence}: {found} at {at_s} s");
        }
    };
    live(&score, "a touch", &gestures);
    // What the recording does meanwhile waits, and the newest of it returns.
    let moving = score.clone().gesture(2.1, 0.4).gesture(2.2, 0.6);
    live(&moving, "the recording moves", &[(2.299, 0.0), (3.0, 0.6)]);
    // Touched again before the silence is over: 0.3 s from the last touch.
    let again = score.wheel(2.2, 127).gesture(2.1, 0.4);
    live(&again, "touched again", &[(2.49, 1.0), (3.0, 0.4)]);
    // A wheel alone has no recording to return to.
    live(&Score::new().wheel(2.0, 64), "no recording", &[(3.9, 0.503_937)]);
}

#[test]
fn flutter_of_one_step_is_no_movement() {
    // 64 65 64 65 … every 0.1 s after a rise to 64: each reversal lasts less than 0.25 s.
    let mut score = Score::new().wheel(0.5, 60).wheel(0.6, 64);
    for step in 0..20 {
        score = score.wheel(1.0 + 0.1 * f64::from(step), 63 + (step % 2) as u8);
    }
    check("flutter", &wheel(), &score, &[(1.0, 0.503_937), (2.0, 0.503_937), (3.0, 0.503_937)]);
    // One step that stays 0.25 s is believed.
    let score = Score::new().wheel(0.5, 60).wheel(0.6, 64).wheel(1.0, 63);
    let (views, _) = watch(&wheel(), &score, 2.0);
    assert!((at(&views, 1.249).gesture - 0.503_937).abs() < 1e-6);
    assert!((at(&views, 2.0).gesture - 63.0 / 127.0).abs() < 1e-6);
}

#[test]
fn pressure_that_falls_with_the_note_is_held_and_then_released() {
    // To 0 at 2 s, the note-off 20 ms later or 20 ms before: held until 2.12, gone 60 ms later
    // (and what smoothing adds). Without a note-off it falls after the 30 ms of waiting for one.
    let touch = Score::new().message(0.5, pressure(100)).on(1.0, 64);
    let held = 100.0 / 127.0;
    for (off_s, sentence) in [(2.02, "off after"), (1.98, "off before")] {
        let score = touch.clone().message(2.0, pressure(0)).off(off_s, 64);
        let (views, _) = watch(&under(Source::ChannelPressure), &score, 2.5);
        assert!((at(&views, 2.119).gesture - held).abs() < 1e-6, "{sentence}: held");
        let half_way = at(&views, 2.15).gesture / held;
        assert!((0.45..0.75).contains(&half_way), "{sentence}: {half_way} half way");
        assert!(at(&views, 2.25).gesture < 0.01, "{sentence}: released");
    }
    let lone = touch.clone().message(2.0, pressure(0));
    let (views, _) = watch(&under(Source::ChannelPressure), &lone, 2.5);
    assert!((at(&views, 2.029).gesture - held).abs() < 1e-6, "it waits for a note-off");
    assert!(at(&views, 2.1).gesture < 0.01, "and falls");
    // Pressed again within the hold, it never fell.
    let score = touch.message(2.0, pressure(0)).off(2.01, 64).message(2.1, pressure(100));
    check("pressed again", &under(Source::ChannelPressure), &score, &[(2.05, held), (3.0, held)]);
}

#[test]
fn a_breath_gap_articulates_but_keeps_style_and_legato() {
    // The breath stops with the note at 2 s: the level falls with it, the weights of the styles
    // stay for 0.12 s as they were.
    let mut patch = bare("erhu", "perform");
    patch.hand.source = Source::Controller(2);
    patch.hand.is_breath = true;
    let score = Score::new().controller(0.5, 2, 64).on(1.0, 72).off(2.0, 72).controller(2.0, 2, 0);
    let (views, _) = watch(&patch, &score, 3.0);
    assert!(at(&views, 2.1).gesture < 0.02, "{}", at(&views, 2.1).gesture);
    assert_eq!(at(&views, 2.11).weights, [0.0, 1.0, 0.0, 0.0]);
    assert_eq!(at(&views, 2.6).weights, [1.0, 0.0, 0.0, 0.0]);
    // A slur within the gap is what the breath before it asked for, 0.504 + 0.06: joined. For a
    // hand that does not blow the gesture has fallen, and the slur is quick.
    let tongued = Score::new().controller(0.5, 2, 64).on(1.0, 72).on(1.2, 76);
    let tongued = tongued.off(2.0, 76).controller(2.0, 2, 0).on(2.08, 80);
    for (is_breath, mode) in [(true, Mode::Joined), (false, Mode::Quick)] {
        patch.hand.is_breath = is_breath;
        let (views, _) = watch(&patch, &tongued, 2.1);
        assert_eq!(at(&views, 2.09).mode, mode, "breath {is_breath}");
    }
}

/// An off 30 ms after the breath has gone, to a tenth of a millisecond, belongs to it.
#[test]
fn a_breath_and_an_off_belong_together_within_thirty_milliseconds() {
    let mut patch = bare("erhu", "perform");
    (patch.hand.source, patch.hand.is_breath) = (Source::Controller(2), true);
    for (off_s, holds) in [(2.0301, false), (2.03004, true), (2.0299, true), (1.9699, false)] {
        let score = Score::new().controller(0.5, 2, 64).on(1.0, 72);
        let score = score.off(off_s, 72).controller(2.0, 2, 0);
        let (views, _) = watch(&patch, &score, 3.0);
        let rolled = at(&views, 2.11).weights[1];
        assert_eq!(rolled > 0.99, holds, "off at {off_s}: {rolled}");
    }
}

#[test]
fn a_parameter_is_a_gesture_that_does_not_step() {
    let score = Score::new().at(1.0, Input::Gesture(0.3));
    check("a parameter", &under(Source::Parameter), &score, &[(1.0, 0.3), (2.0, 0.3)]);
    let score = Score::new().at(1.0, Input::Gesture(f64::NAN));
    check("nonsense is rest", &under(Source::Parameter), &score, &[(2.0, 0.0)]);
}
