//! Joins by the receiver's own portamento and legato switch: what it is told, in which order, and when both are off.

use super::join::plain;
use crate::music::{at, said, words};
use crate::rehearsal::{RATE_HZ, Score, perform, watch};
use polso_engine::patch::{
    PORTAMENTO_POINTS_MAX, Patch, PortamentoPatch, TransitionPatch, TransitionWay,
};
use polso_engine::reason::Reason;
use polso_engine::{Input, Message};

/// A violin without outputs before a receiver with this table of values and milliseconds.
fn gliding(table: &[(u8, f64)]) -> Patch {
    let mut patch = plain(2.0);
    patch.target.output_count = 0;
    let mut points = [(0, 0.0); PORTAMENTO_POINTS_MAX];
    for (place, (value, ms)) in points.iter_mut().zip(table) {
        *place = (*value, ms / 1000.0);
    }
    let portamento = PortamentoPatch { points, count: table.len() };
    let way = TransitionWay::Portamento;
    patch.target.transition = TransitionPatch { way, portamento, ..TransitionPatch::NONE };
    patch
}

/// A millisecond for each step of controller 5.
const EVEN: [(u8, f64); 2] = [(0, 0.0), (127, 127.0)];

fn check(sentence: &str, patch: &Patch, score: &Score, from_s: f64, expected: &[&str]) {
    let sent = perform(patch, RATE_HZ, &[64], score, 8.0);
    let late = sent.into_iter().filter(|it| crate::music::time_s(it) >= from_s);
    assert_eq!(words(&late.collect::<Vec<_>>()), expected, "{sentence}");
}

#[test]
fn a_join_tells_switch_time_and_source_right_before_its_note() {
    // Whole tones: joined 16 ms, slow 28, slide 80; then quick, and a fresh note.
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.6, 72).note(1.5, 2.1, 74);
    let score = score.gesture(1.8, 0.75).note(2.0, 2.6, 72).note(2.5, 3.1, 74);
    let score = score.gesture(2.8, 1.0).note(3.0, 3.6, 72).note(3.5, 4.1, 74);
    let score = score.gesture(3.8, 0.1).note(4.0, 4.6, 72).note(5.0, 5.5, 74);
    let expected = [
        "cc 65 0 @ 0",
        "on 72 64 @ 1000",
        "cc 65 127 @ 1500",
        "cc 5 16 @ 1500",
        "cc 84 72 @ 1500",
        "on 74 64 @ 1500",
        "off 72 @ 1600",
        "cc 5 28 @ 2000",
        "cc 84 74 @ 2000",
        "on 72 64 @ 2000",
        "off 74 @ 2100",
        "cc 84 72 @ 2500", // the same time: only the source is new
        "on 74 64 @ 2500",
        "off 72 @ 2600",
        "cc 5 80 @ 3000",
        "cc 84 74 @ 3000",
        "on 72 64 @ 3000",
        "off 74 @ 3100",
        "cc 84 72 @ 3500",
        "on 74 64 @ 3500",
        "off 72 @ 3600",
        "cc 65 0 @ 4000", // quick
        "on 72 64 @ 4000",
        "off 74 @ 4100",
        "off 72 @ 4600",
        "on 74 64 @ 5000", // fresh, and it is off
        "off 74 @ 5500",
    ];
    check("every mode", &gliding(&EVEN), &score, 0.0, &expected);
}

#[test]
fn the_value_whose_time_is_nearest_is_told() {
    // What is told of a slow join of this many semitones, 14 ms each, 25 to 100.
    let told = |table: &[(u8, f64)], key: u8| {
        let score = Score::new().gesture(0.0, 0.73).on(1.0, 88).on(1.5, key);
        let sent = perform(&gliding(table), RATE_HZ, &[64], &score, 2.0);
        said(&sent, 5).last().map(|it| it.1)
    };
    assert_eq!([89, 91, 95].map(|key| told(&EVEN, key)), [Some(25), Some(42), Some(98)]);
    // Steps of 102 ms: 42 is nearer to none, 56 to one.
    let coarse = [(0, 0.0), (1, 102.0), (127, 13_000.0)];
    assert_eq!([91, 92, 95].map(|key| told(&coarse, key)), [Some(0), Some(1), Some(1)]);
    // Straight between the points: 42 ms lies 0.4 of the way from 20 ms to 75 ms.
    assert_eq!(told(&[(10, 20.0), (20, 75.0)], 91), Some(14));
    // Beyond the table its end, and one point is for all.
    assert_eq!(told(&[(10, 60.0), (20, 70.0)], 89), Some(10));
    assert_eq!(told(&[(10, 60.0), (20, 70.0)], 95), Some(20));
    assert_eq!(told(&[(33, 60.0)], 95), Some(33));
}

#[test]
fn a_join_over_strings_or_from_a_drone_jumps() {
    let check_reason = |on_s: f64, keys: [u8; 2], gesture: f64, reason: Reason| {
        let score = Score::new().gesture(0.0, gesture).on(on_s, keys[0]).on(3.0, keys[1]);
        let (views, sent) = watch(&gliding(&EVEN), &score, 3.1);
        assert_eq!(at(&views, 3.0).transition_reason, reason, "{keys:?}");
        let is_on = said(&sent, 65).last().map(|it| it.1) == Some(127);
        assert_eq!(is_on, reason == Reason::ByPortamento, "{keys:?}");
    };
    check_reason(2.5, [72, 74], 0.5, Reason::ByPortamento);
    check_reason(2.5, [72, 74], 0.1, Reason::QuickJump);
    check_reason(2.5, [62, 69], 0.5, Reason::QuickOverStrings);
    check_reason(1.0, [62, 69], 0.5, Reason::MayBeDrone);
}

#[test]
fn stop_locate_panic_and_resync_turn_it_off() {
    let stop = Input::Song { beat: 4.0, tempo_bpm: 120.0, running: false };
    let jump = Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: true };
    let mut both = gliding(&EVEN);
    both.target.transition.has_legato_switch = true;
    for input in [stop, jump, Input::Panic, Input::Resync, Input::Bypass(true)] {
        let score = Score::new().at(0.0, crate::music::song(0.0)).gesture(0.0, 0.5);
        let score = score.on(1.0, 72).on(1.5, 74).at(2.0, input);
        let sent = perform(&both, RATE_HZ, &[64], &score, 3.0);
        for number in [65, 68] {
            let at_2: Vec<_> = said(&sent, number).into_iter().filter(|it| it.0 >= 1.4).collect();
            assert_eq!(at_2.first(), Some(&(1.5, 127)), "{input:?}: cc {number}");
            assert_eq!(at_2.last(), Some(&(2.0, 0)), "{input:?}: cc {number}");
        }
    }
    // And so does another target, which knows nothing of either.
    let mut engine = polso_engine::Section::prepare(RATE_HZ, &both);
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).on(1.5, 74);
    crate::rehearsal::perform_on(&mut engine, RATE_HZ, &[64], &score, 2.0);
    for is_sounding in [true, false] {
        let mut engine = engine.clone();
        if !is_sounding {
            let offs = Score::new().off(0.1, 72).off(0.1, 74);
            crate::rehearsal::perform_on(&mut engine, RATE_HZ, &[64], &offs, 2.0);
        }
        engine.load(&plain(2.0));
        let sent = crate::rehearsal::perform_on(&mut engine, RATE_HZ, &[64], &Score::new(), 0.1);
        let last = [65, 68].map(|number| said(&sent, number).last().map(|it| it.1));
        assert_eq!(last, [Some(0), Some(0)], "sounding {is_sounding}");
    }
}

#[test]
fn the_legato_switch_is_on_while_one_key_alone_is_meant_to_sound() {
    let mut patch = gliding(&EVEN);
    patch.target.transition.way = TransitionWay::None;
    let count =
        |patch: &Patch, score: &Score| said(&perform(patch, RATE_HZ, &[64], score, 4.0), 68);
    let line = Score::new().gesture(0.0, 0.5).on(1.0, 72).on(1.5, 74).on(2.0, 76).off(2.2, 72);
    assert_eq!(count(&patch, &line), [], "off by default");
    patch.target.transition.has_legato_switch = true;
    // The keys that a join has left are not meant to sound, though they are down.
    let line = line.off(2.3, 74).off(2.5, 76).on(3.0, 72);
    assert_eq!(count(&patch, &line), [(0.0, 0), (1.5, 127), (3.0, 0)]);
    // A double stop, and a note that joins one of its keys.
    let chord = Score::new().gesture(0.0, 0.5).on(1.0, 72).on(1.5, 74).on(2.0, 76).on(2.01, 81);
    let chord = chord.on(2.5, 83);
    assert_eq!(count(&patch, &chord), [(0.0, 0), (1.5, 127), (2.01, 0)]);
    // Beside a drone.
    let drone = Score::new().gesture(0.0, 0.5).on(1.0, 62).on(2.5, 72).on(3.0, 74);
    assert_eq!(count(&patch, &drone), [(0.0, 0)]);
}

#[test]
fn another_channel_leaves_none_switched_on() {
    let on = |channel, key| Message::NoteOn { channel, key, velocity: 64 };
    let score = Score::new().gesture(0.0, 0.5).message(1.0, on(0, 72)).message(1.5, on(0, 74));
    let score = score.message(2.0, on(3, 76));
    let expected = [
        "cc 65 127 @ 1500",
        "cc 5 16 @ 1500",
        "cc 84 72 @ 1500",
        "on 74 64 @ 1500",
        "cc 65 0 @ 2000", // the old channel's
        "cc 65 127 @ 2000",
        "cc 5 16 @ 2000",
        "cc 84 74 @ 2000",
        "on 76 64 @ 2000",
    ];
    check("another channel", &gliding(&EVEN), &score, 1.4, &expected);
}
