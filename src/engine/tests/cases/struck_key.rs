//! What a struck key takes from the keys and the accents before it.

use approx::assert_abs_diff_eq;

use crate::music::{at, bare, even_violin, strike};
use crate::rehearsal::{Score, watch};
use polso_engine::{Channel, Key};

/// The key that owns the line at a time.
#[track_caller]
fn check_owner(score: &Score, at_s: f64, key: Option<u8>) {
    let (views, _) = watch(&even_violin(), score, at_s);
    assert_eq!(at(&views, at_s).key, key);
}

#[test]
fn a_higher_key_from_before_the_chord_is_not_its_upper_note() {
    let held = Score::new().gesture(0.0, 0.5).on(1.0, 84);
    check_owner(&held.clone().on(2.0, 60).on(2.02, 67), 2.1, Some(67));
    check_owner(&held.on(2.0, 67).on(2.02, 60), 2.1, Some(67));
    // One of the chord that has been released already is not its upper note either.
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 67).off(1.01, 67).on(1.02, 60);
    check_owner(&score, 1.1, Some(60));
}

/// The level of a violin at a time; 0.53 is that of its gesture of a half.
#[track_caller]
fn check_level(score: &Score, at_s: f64, level: f64) {
    let (views, _) = watch(&bare("violin", "perform"), score, at_s);
    assert_abs_diff_eq!(at(&views, at_s).dynamics, level, epsilon = 1e-4);
}

#[test]
fn a_soft_fresh_note_ends_the_accent_of_the_hard_one_before_it() {
    let hard = Score::new().gesture(0.0, 0.5).message(1.0, strike(72, 127)).off(1.04, 72);
    // e^(−0.05/0.12) of the accent of 0.12 is left.
    check_level(&hard, 1.05, 0.53 + 0.12 * libm::exp(-0.05 / 0.12));
    check_level(&hard.message(1.05, strike(76, 64)), 1.06, 0.53);
}

#[test]
fn a_harder_note_of_a_chord_adds_its_accent_and_a_softer_one_takes_none_away() {
    let chord = |one, other| {
        let score = Score::new().gesture(0.0, 0.5);
        score.message(1.0, strike(72, one)).message(1.02, strike(76, other))
    };
    check_level(&chord(64, 127), 1.05, 0.53 + 0.12 * libm::exp(-0.03 / 0.12));
    check_level(&chord(127, 64), 1.05, 0.53 + 0.12 * libm::exp(-0.05 / 0.12));
}

/// Keys and channels have places of their own in every table.
#[test]
fn each_key_and_channel_has_its_own_place() {
    for number in 0..128 {
        assert_eq!(Key::new(number).map(Key::index), Some(usize::from(number)));
    }
    for number in 0..16 {
        assert_eq!(Channel::new(number).map(Channel::index), Some(usize::from(number)));
    }
}
