//! What is believed of a controller that steps, jumps with the song, waits, or falls silent with the breath.

use polso_engine::patch::{Patch, Source};
use polso_engine::{Input, Section, View};

use crate::music::{at, bare};
use crate::rehearsal::{RATE_HZ, Score, perform_on, watch};

fn wheel() -> Patch {
    bare("violin", "perform")
}

fn locate() -> Input {
    Input::Locate { beat: 8.0, tempo_bpm: 120.0, running: true }
}

/// The last believed step of the wheel at these times.
#[track_caller]
fn check(score: &Score, steps: &[(f64, u8)]) {
    let views = watch(&wheel(), score, 7.0).0;
    for &(at_s, step) in steps {
        let raw = at(&views, at_s).raw.expect("it has moved");
        assert!((raw * 127.0 - f64::from(step)).abs() < 1e-9, "{} at {at_s} s", raw * 127.0);
    }
}

/// It rises to 62; one step on is believed, one step back has to last a quarter of a second.
fn risen() -> Score {
    Score::new().wheel(0.5, 60).wheel(0.6, 62)
}

#[test]
fn one_step_onward_is_believed_until_six_tenths_of_a_second_have_gone() {
    check(&risen().wheel(1.2, 63), &[(1.21, 63)]);
    check(&risen().wheel(1.201, 63), &[(1.21, 62), (1.44, 62), (1.46, 63)]);
    check(&risen().wheel(1.201, 64), &[(1.21, 64)]);
    check(&Score::new().wheel(0.5, 62).wheel(0.6, 60).wheel(0.9, 59), &[(0.91, 59)]);
}

/// A hand that has stepped every 0.9 s since 0.6 s: from its second step onward its own interval goes
/// 0.315, 0.520, 0.653 s, and two and a half of that are 0.79, 1.30 and 1.63 s.
#[test]
fn a_slow_hand_is_believed_for_two_and_a_half_of_its_own_intervals() {
    let slow = |to_s: f64| {
        (0..5)
            .fold(Score::new(), |score, place| {
                score.wheel(0.6 + 0.9 * f64::from(place), 60 + place)
            })
            .wheel(to_s, 65)
    };
    // The first of them are doubted, and count from when they came.
    let score = slow(4.2 + 1.62);
    let doubted = [(1.74, 60), (1.76, 61), (2.64, 61), (2.66, 62), (3.54, 62), (3.56, 63)];
    check(&score, &doubted);
    check(&score, &[(4.21, 64), (5.81, 64), (5.83, 65)]);
    check(&slow(4.2 + 1.64), &[(5.85, 64), (6.08, 64), (6.1, 65)]);
}

#[test]
fn a_doubted_step_counts_from_when_it_first_came() {
    check(&risen().wheel(1.0, 61).wheel(1.2, 61), &[(1.24, 62), (1.26, 61)]);
    // Another value is doubted anew.
    let other = risen().wheel(2.0, 61).wheel(2.2, 63);
    check(&other, &[(2.19, 62), (2.26, 62), (2.44, 62), (2.46, 63)]);
    // Back home, nothing is doubted.
    check(&risen().wheel(1.0, 61).wheel(1.1, 62), &[(1.5, 62)]);
}

#[test]
fn the_ends_of_the_wheel_are_believed_at_once() {
    check(&Score::new().wheel(0.5, 3).wheel(0.6, 1).wheel(2.0, 0), &[(2.01, 0)]);
    check(&Score::new().wheel(0.5, 120).wheel(0.6, 126).wheel(2.0, 127), &[(2.01, 127)]);
    check(&Score::new().wheel(0.5, 0).wheel(2.0, 1), &[(2.24, 0), (2.26, 1)]);
}

#[test]
fn a_jump_of_the_song_believes_what_was_doubted_and_stands_there() {
    let score = risen().wheel(1.0, 61).at(1.1, locate());
    check(&score, &[(1.09, 62), (1.101, 61), (2.0, 61)]);
    let views = watch(&wheel(), &score, 1.2).0;
    assert!((at(&views, 1.101).gesture - 61.0 / 127.0).abs() < 1e-12);
    // From there on it is a wheel that has not moved: one step has to last.
    check(&score.wheel(1.2, 62), &[(1.44, 61), (1.46, 62)]);
}

/// The recorded gesture waits for the hand; a jump does not make it forget.
#[test]
fn a_recorded_gesture_that_waits_comes_back_after_a_jump() {
    let score = Score::new().gesture(0.0, 0.8).wheel(1.0, 20).at(1.1, locate());
    let views = watch(&wheel(), &score, 2.0).0;
    assert!((at(&views, 1.1).gesture - 20.0 / 127.0).abs() < 0.05);
    assert!((at(&views, 1.6).gesture - 0.8).abs() < 1e-3, "{}", at(&views, 1.6).gesture);
}

/// MIDI 1.0: a pair has one coarse value, kept by its fine one.
#[test]
fn a_pair_that_settles_keeps_its_place() {
    let mut patch = wheel();
    patch.hand.source = Source::ControllerPair(1);
    let score = Score::new().controller(0.5, 1, 40).controller(0.5, 33, 90);
    let views = watch(&patch, &score.at(1.0, locate()).controller(1.5, 33, 91), 2.0).0;
    let place = |fine: f64| (40.0 * 128.0 + fine) / 16_383.0;
    assert!((at(&views, 1.2).gesture - place(90.0)).abs() < 1e-12);
    assert!((at(&views, 2.0).gesture - place(91.0)).abs() < 1e-6);
}

/// Until when something still moves, milliseconds after the last event.
fn settles_ms(patch: &Patch, score: &Score, last_s: f64) -> u32 {
    let mut engine = Section::prepare(RATE_HZ, patch);
    perform_on(&mut engine, RATE_HZ, &[48], score, last_s);
    let mut ms = 0;
    while !engine.is_settled() {
        perform_on(&mut engine, RATE_HZ, &[48], &Score::new(), 0.001);
        ms += 1;
        assert!(ms < 5000, "it never settles");
    }
    ms
}

/// A breath is level once its last 32 ms were the same.
#[test]
fn a_hand_that_stands_settles_at_once_and_a_breath_when_it_is_level() {
    let mut breath = bare("dizi-d", "generic");
    (breath.hand.source, breath.hand.is_breath) = (Source::Controller(2), true);
    let score = Score::new().controller(0.1, 2, 70).at(1.0, locate());
    let settled = settles_ms(&breath, &score, 1.001);
    assert!((31..=35).contains(&settled), "{settled} ms");
    let generic = bare("violin", "generic");
    assert_eq!(settles_ms(&generic, &Score::new().wheel(0.1, 60), 0.5), 0);
    // An accent of 0.12 falls below 1e-5 in 0.12 s · ln(12,000) = 1.127 s.
    let strike = crate::music::strike(70, 127);
    let score = Score::new().wheel(0.0, 0).message(0.1, strike).off(0.15, 70);
    let accented = settles_ms(&generic, &score, 0.2);
    assert!(accented.abs_diff(1027) <= 5, "{accented} ms");
    // A doubted step keeps the section awake for its quarter of a second.
    let doubted = risen().wheel(1.0, 61);
    assert!(settles_ms(&generic, &doubted, 1.1) > 140);
    // A note on the way to its vibrato, a tail, a niente and a waiting recording do too.
    assert!(settles_ms(&generic, &Score::new().wheel(0.0, 80).note(0.1, 1.5, 70), 1.6) > 200);
    let waits = Score::new().gesture(0.0, 0.5).wheel(1.0, 20).gesture(1.01, 0.6);
    assert!(settles_ms(&generic, &waits, 1.05) > 240);
}

#[test]
fn a_section_that_stands_aside_is_settled_whatever_moves() {
    let mut engine = Section::prepare(RATE_HZ, &wheel());
    let score = Score::new().wheel(0.0, 20).at(0.1, Input::Bypass(true)).wheel(0.2, 90);
    perform_on(&mut engine, RATE_HZ, &[48], &score, 0.205);
    assert!(engine.is_settled());
    let score = Score::new().at(0.0, Input::Bypass(false)).wheel(0.0, 40);
    perform_on(&mut engine, RATE_HZ, &[48], &score, 0.005);
    assert!(!engine.is_settled());
}

/// The rate of a style that has no width stands where the first that has one would have it.
#[test]
fn under_the_plain_style_the_rate_is_that_of_the_first_vibrato() {
    let view = |gesture| -> View {
        *watch(&bare("erhu", "generic"), &Score::new().gesture(0.0, gesture), 1.0)
            .0
            .last()
            .expect("a view")
    };
    assert!((view(0.0).rate_hz - 4.5).abs() < 1e-9, "{}", view(0.0).rate_hz);
    assert!((view(0.5).rate_hz - 5.6).abs() < 1e-9, "{}", view(0.5).rate_hz);
}

/// MIDI 1.0: all notes off lets no pedal up, so the next note is held by it.
#[test]
fn all_notes_off_leaves_the_pedal_down() {
    for mode in [120, 123] {
        let score = Score::new().wheel(0.0, 60).controller(0.1, 64, 127).on(0.2, 70);
        let score = score.controller(0.5, mode, 0).note(1.0, 1.3, 72);
        let mut engine = Section::prepare(RATE_HZ, &wheel());
        perform_on(&mut engine, RATE_HZ, &[48], &score, 1.5);
        assert_eq!(engine.view().tail_reason, polso_engine::Reason::PedalHolds, "{mode}");
        assert_eq!(engine.view().key, Some(72));
        // A pedal that was up stays up.
        let score = Score::new().wheel(0.0, 60).controller(0.5, mode, 0).note(1.0, 1.3, 72);
        let mut engine = Section::prepare(RATE_HZ, &wheel());
        perform_on(&mut engine, RATE_HZ, &[48], &score, 1.5);
        assert_eq!(engine.view().tail_reason, polso_engine::Reason::ShortLastNote, "{mode}");
    }
}
