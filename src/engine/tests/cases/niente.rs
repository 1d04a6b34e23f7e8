//! Out of nothing and into nothing: niente and dal niente, only for a hand that is known.

use crate::music::{at, even_violin};
use crate::rehearsal::{Score, watch};
use polso_engine::Layer;
use polso_engine::patch::{Address, Patch, Reading};

/// The expression's amplitude at these times.
fn check(sentence: &str, patch: &Patch, score: &Score, amplitudes: &[(f64, f64)]) {
    let (views, _) = watch(patch, score, amplitudes.last().expect("a time").0);
    for &(at_s, amplitude) in amplitudes {
        let found = at(&views, at_s).expression;
        assert!((found - amplitude).abs() < 1e-6, "{sentence}: {found} at {at_s} s");
    }
}

/// A hand that plays neither soft nor loud.
fn half() -> Score {
    Score::new().gesture(0.0, 0.5)
}

/// When the gesture first is where it should be from a time on, seconds.
fn first_s(score: &Score, from_s: f64, is_there: impl Fn(f64) -> bool) -> f64 {
    let (views, _) = watch(&even_violin(), score, from_s + 0.3);
    let after = views.iter().find(|view| view.time_s >= from_s && is_there(view.gesture));
    after.expect("the gesture comes there").time_s
}

#[test]
fn a_gesture_at_nothing_takes_the_sound_to_nothing() {
    // At or below .04 for 0.15 s, then to 0 in 0.25 s: a fifth of the way 0.896, half 0.5. What
    // the hand needs from 1.5 s on to get to .04 is no part of this.
    let score = half().on(1.0, 72).gesture(1.5, 0.0);
    let low_s = first_s(&score, 1.5, |x| x <= 0.04);
    let (views, _) = watch(&even_violin(), &score, 2.0);
    let falling = views.iter().find(|view| view.expression < 1.0).expect("it falls");
    let start_s = falling.time_s - 0.001;
    // The wait is over at the first tick that is not before its time.
    assert!((0.1499..0.1511).contains(&(start_s - low_s)), "{}", start_s - low_s);
    let falls = [(0.0, 1.0), (0.05, 0.896), (0.125, 0.5), (0.25, 0.0), (1.0, 0.0)];
    let amplitudes = falls.map(|(age_s, amplitude)| (start_s + age_s, amplitude));
    check("niente", &even_violin(), &score, &amplitudes);
}

#[test]
fn just_above_the_threshold_nothing_happens() {
    let score = half().on(1.0, 72).gesture(1.5, 0.041);
    check("0.041", &even_violin(), &score, &[(2.0, 1.0), (4.0, 1.0)]);
    let score = half().on(1.0, 72).gesture(1.5, 0.04);
    check("0.04", &even_violin(), &score, &[(4.0, 0.0)]);
}

#[test]
fn a_short_visit_to_nothing_is_none() {
    // The gesture is at or below .04 for less than 0.15 s.
    let score = half().on(1.0, 72).gesture(1.5, 0.0).gesture(1.63, 0.5);
    check("a dip", &even_violin(), &score, &[(1.7, 1.0), (3.0, 1.0)]);
}

#[test]
fn the_sound_comes_back_from_six_hundredths_in_sixty_milliseconds() {
    let down = half().on(1.0, 72).gesture(1.5, 0.0);
    check("0.055 is not enough", &even_violin(), &down.clone().gesture(3.0, 0.055), &[(4.0, 0.0)]);
    let score = down.gesture(3.0, 0.5);
    let back_s = first_s(&score, 3.0, |x| x >= 0.06);
    let amplitudes =
        [(back_s, 0.0), (back_s + 0.015, 0.15625), (back_s + 0.03, 0.5), (back_s + 0.06, 1.0)];
    check("back", &even_violin(), &score, &amplitudes);
}

#[test]
fn a_fresh_note_at_nothing_starts_from_nothing() {
    // Dal niente: at 0 from the note on, whatever its age, and back from .06 in 60 ms.
    let score = Score::new().gesture(0.0, 0.04).on(1.0, 72).gesture(2.0, 0.5);
    let back_s = first_s(&score, 2.0, |x| x >= 0.06);
    let amplitudes =
        [(1.0, 0.0), (1.5, 0.0), (back_s, 0.0), (back_s + 0.03, 0.5), (back_s + 0.06, 1.0)];
    check("dal niente", &even_violin(), &score, &amplitudes);
    // At .05 a fresh note is simply soft.
    let soft = Score::new().gesture(0.0, 0.05).on(1.0, 72);
    check("soft", &even_violin(), &soft, &[(1.0, 1.0), (2.0, 1.0)]);
}

#[test]
fn a_joined_note_at_nothing_stays_there() {
    // Niente in a slurred line: the next slur does not bring the sound back.
    let score = half().note(1.0, 3.01, 72).gesture(1.5, 0.0).on(3.0, 74);
    check("slurred", &even_violin(), &score, &[(2.9, 0.0), (3.0, 0.0), (3.5, 0.0)]);
}

#[test]
fn an_unknown_gesture_never_takes_the_sound_away() {
    // A wheel that never moved stands at 0, and the note sounds all the same.
    let score = Score::new().on(1.0, 72);
    check("unknown", &even_violin(), &score, &[(1.0, 1.0), (1.5, 1.0), (3.0, 1.0)]);
    // Once it has moved to 0 it is known.
    let known = Score::new().gesture(0.0, 0.0).on(1.0, 72);
    check("known", &even_violin(), &known, &[(1.0, 0.0), (3.0, 0.0)]);
}

#[test]
fn nothing_happens_in_a_rest() {
    // The hand rests at 0 between two notes for a second: the next at half gesture is whole.
    let score = half().note(1.0, 1.4, 72).gesture(1.5, 0.0).gesture(2.5, 0.5).on(3.0, 74);
    check("a rest", &even_violin(), &score, &[(1.9, 1.0), (2.4, 1.0), (3.0, 1.0), (3.5, 1.0)]);
}

#[test]
fn the_expression_is_full_again_a_quarter_second_after_a_niente_ends() {
    // Niente, then the key lifts at 3 s: down until the off and 0.25 s more, then back in 40 ms.
    // The last note was long, so its off waits 260 ms.
    let score = half().note(1.0, 3.0, 72).gesture(1.5, 0.0);
    let amplitudes = [(3.0, 0.0), (3.26, 0.0), (3.51, 0.0), (3.55, 1.0), (4.0, 1.0)];
    check("after", &even_violin(), &score, &amplitudes);
}

/// The second note of a chord once began the expression anew: it cut a soft chord off.
#[test]
fn a_chords_later_note_does_not_begin_the_expression_again() {
    let soft = Score::new().gesture(0.0, 0.041).on(1.0, 72).gesture(1.001, 0.0).on(1.024, 76);
    let (views, _) = watch(&even_violin(), &soft, 1.5);
    assert!(crate::music::at(&views, 1.024).gesture < 0.04);
    check("soft", &even_violin(), &soft, &[(1.03, 1.0), (1.1, 1.0)]);
    // Nor does it bring a chord out of nothing back at once.
    let rising = Score::new().gesture(0.0, 0.03).on(1.0, 72).gesture(1.001, 0.2).on(1.024, 76);
    let (views, _) = watch(&even_violin(), &rising, 1.5);
    assert!(crate::music::at(&views, 1.024).gesture > 0.04);
    assert!(crate::music::at(&views, 1.026).expression < 0.5);
}

/// GM2 3.3.4: 40·log10(value/127) dB, so an amplitude a is 127·√a; with a level in between too.
#[test]
fn a_receiver_hears_the_way_to_nothing_in_decibels() {
    let mut level = crate::rehearsal::output(Layer::Expression, Address::Controller(11), 0.0, 1.0);
    level.reading = Reading::Gm2;
    let score = half().on(1.0, 72).gesture(1.5, 0.0);
    let (views, sent) = watch(&crate::music::only(even_violin(), level), &score, 3.0);
    let said = crate::music::said(&sent, 11);
    let within = said.iter().filter(|(_, value)| (20..107).contains(value));
    assert!(within.clone().count() > 20, "{said:?}");
    for (at_s, value) in within {
        let amplitude = crate::music::at(&views, *at_s).expression;
        let expected = 127.0 * amplitude.sqrt();
        assert!((f64::from(*value) - expected).abs() <= 0.51, "{value}, not {expected}");
    }
    // Where only the level has an address, it carries the same: floor 0.06 of 30 dB below it.
    let mut level = crate::rehearsal::output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
    level.reading = Reading::Gm2;
    let (views, sent) = watch(&crate::music::only(even_violin(), level), &score, 3.0);
    let said = crate::music::said(&sent, 7);
    let within = said.iter().filter(|(at_s, value)| *at_s > 1.8 && *value > 4);
    assert!(within.clone().count() > 10, "{said:?}");
    for (at_s, value) in within {
        let view = crate::music::at(&views, *at_s);
        let db = 20.0 * libm::log10(view.expression) - 30.0 * (1.0 - view.dynamics);
        let expected = 127.0 * libm::exp10(db / 40.0);
        assert!((f64::from(*value) - expected).abs() <= 0.6, "{value}, not {expected}");
    }
}
