//! From where in the song a hand at rest is a silence: the earliest place at which it has come up.

use crate::music::{at, even_violin, song};
use crate::rehearsal::{RATE_HZ, Score, Sent, perform_on, watch_on};
use polso_engine::{Input, Section, View};

/// Two quarter notes a second.
fn locate(beat: f64) -> Input {
    Input::Locate { beat, tempo_bpm: 120.0, running: true }
}

/// A song whose wheel is told to be at 0 on its first beat, comes up at 3 s (beat 6), and goes back at
/// 3.5 s; a note sounds from 0.5 s and one from 4 s on.
fn take() -> Score {
    let score = Score::new().at(0.0, song(0.0)).wheel(0.0, 0).note(0.5, 1.5, 72);
    score.wheel(3.0, 80).wheel(3.5, 0).note(4.0, 4.8, 74)
}

/// The same again from `start_s` on, after a jump to its beginning.
fn again(score: Score, start_s: f64) -> Score {
    let score = score.at(start_s, locate(0.0)).wheel(start_s, 0);
    let score = score.note(start_s + 0.5, start_s + 1.5, 72).wheel(start_s + 3.0, 80);
    score.wheel(start_s + 3.5, 0).note(start_s + 4.0, start_s + 4.8, 74)
}

fn engine() -> Section {
    Section::prepare(RATE_HZ, &even_violin())
}

/// The expression at these times, and from where the engine then says silences may begin.
#[track_caller]
fn check(engine: &mut Section, score: &Score, expected: &[(f64, f64)], from: Option<i32>) {
    let (views, _) = watch_on(engine, score, expected.last().expect("a time").0);
    for &(at_s, amplitude) in expected {
        let found = at(&views, at_s).expression;
        assert!((found - amplitude).abs() < 1e-6, "{found} at {at_s} s");
    }
    assert_eq!(engine.niente_from(), from);
}

#[test]
fn a_song_knows_where_the_hand_first_came_up() {
    // Beat 6 and a few milliseconds: 288 forty-eighths.
    check(&mut engine(), &take(), &[(0.6, 1.0), (1.4, 1.0), (4.0, 0.0), (4.7, 0.0)], Some(288));
    check(&mut engine(), &take(), &[(0.6, 1.0), (2.9, 1.0)], None);
}

#[test]
fn a_jump_to_before_that_place_is_full_again_and_silent_from_there_on() {
    // After the jump the wheel says nothing: a note held from beat 1 to beyond beat 6 at 8 s. There no
    // gesture asks, so it falls by 1.5 dB in 10 ms.
    let score = take().at(5.0, locate(0.0)).on(5.5, 76);
    let (views, _) = watch_on(&mut engine(), &score, 9.0);
    let heard = |at_s: f64| at(&views, at_s).expression;
    assert_eq!((heard(5.5), heard(7.99), heard(8.4)), (1.0, 1.0, 0.0));
    let db = |view: &View| 20.0 * libm::log10(view.expression);
    assert!((db(at(&views, 8.1)) - db(at(&views, 8.0)) + 15.0).abs() < 1e-6);
    // A jump to behind it is silent at once: the hand counts as settled.
    let score = take().at(5.0, locate(7.0)).on(5.01, 76);
    check(&mut engine(), &score, &[(5.01, 0.0), (6.0, 0.0)], Some(288));
}

#[test]
fn a_hand_that_stands_high_when_the_song_jumps_back_has_not_come_up_there() {
    let score = take().wheel(4.9, 100).at(5.5, locate(0.0)).on(5.6, 76).wheel(5.7, 0);
    check(&mut engine(), &score, &[(5.65, 1.0), (6.5, 1.0)], Some(288));
    // A hand that comes up there has.
    let score = take().at(5.5, locate(0.0)).on(5.6, 76).wheel(6.0, 90).wheel(6.5, 0);
    check(&mut engine(), &score, &[(5.65, 1.0), (7.0, 0.0)], Some(48));
    // A start further on, under a hand that is up, does not move the place there.
    let mut known = engine();
    known.restore_niente(Some(288));
    let score = Score::new().wheel(0.0, 90).at(0.5, song(8.0)).wheel(1.0, 0).on(2.0, 76);
    check(&mut known, &score, &[(2.0, 0.0)], Some(288));
}

/// The messages between two times, with frames since the first.
fn between(sent: &[Sent], from_s: f64, to_s: f64) -> Vec<(u64, polso_engine::Message)> {
    let frame = |seconds: f64| (seconds * RATE_HZ).round() as u64;
    let own = sent.iter().filter(|sent| (frame(from_s)..frame(to_s)).contains(&sent.frame));
    own.map(|sent| (sent.frame - frame(from_s), sent.message)).collect()
}

#[test]
fn once_the_place_is_known_every_pass_is_identical() {
    let score = again(again(take(), 6.0), 12.0);
    let mut first = engine();
    let sent = perform_on(&mut first, RATE_HZ, &[512], &score, 18.0);
    let second = between(&sent, 6.1, 12.0);
    assert_eq!(second, between(&sent, 12.1, 18.0));
    assert!(second.len() > 20, "{}", second.len());
    // Another day, in the project that has kept the place; and the very first pass, which found it.
    let mut later = engine();
    later.restore_niente(first.niente_from());
    let known = perform_on(&mut later, RATE_HZ, &[64, 1000], &again(take(), 6.0), 12.0);
    assert_eq!(second, between(&known, 6.1, 12.0));
    assert_eq!(between(&sent, 0.0, 6.0), between(&known, 0.0, 6.0));
}

#[test]
fn the_place_outlives_a_reset_until_it_is_taken_back() {
    let mut engine = engine();
    perform_on(&mut engine, RATE_HZ, &[512], &take(), 5.0);
    engine.reset();
    assert_eq!(engine.niente_from(), Some(288));
    engine.restore_niente(None);
    assert_eq!(engine.niente_from(), None);
    check(&mut engine, &take(), &[(0.6, 1.0), (4.5, 0.0)], Some(288));
}

#[test]
fn while_the_song_stands_it_is_from_the_moment_the_hand_has_come_up() {
    let live = Score::new().wheel(0.0, 0).note(0.5, 1.0, 72).wheel(1.5, 80).wheel(2.0, 0);
    check(&mut engine(), &live.clone().on(2.5, 72), &[(0.9, 1.0), (2.5, 0.0), (3.0, 0.0)], None);
    // What a hand did before the song began does not count in it.
    let started = live.at(2.4, song(0.0)).on(2.5, 72);
    check(&mut engine(), &started, &[(2.5, 1.0), (3.0, 1.0)], None);
}
