//! Knobs that a host turns while the line plays: each does what its name says, and no more.

use crate::rehearsal::{RATE_HZ, Score, patch, patch_with, perform, perform_on, watch};
use polso_engine::Section;
use polso_engine::View;
use polso_engine::patch::Source;
use polso_engine::{Input, Parameter};

/// A held note under a wheel that stands at `wheel`, with knobs turned before it.
fn held(knobs: &[(Parameter, f64)], wheel: u8) -> View {
    let turn = |score: Score, &(knob, value)| score.at(0.0, Input::Parameter(knob, value));
    let score = knobs.iter().fold(Score::new(), turn).wheel(0.0, wheel).on(0.1, 70);
    *watch(&patch("erhu", "generic"), &score, 2.5).0.last().expect("a view")
}

/// One knob makes `value` of a view `factor` times what it was, within a billionth.
#[track_caller]
fn check(knob: Parameter, turned: f64, value: fn(&View) -> f64, factor: f64) {
    let (plain, with) = (held(&[], 90), held(&[(knob, turned)], 90));
    let (plain, with) = (value(&plain), value(&with));
    assert!(plain > 0.0, "{knob:?}: nothing to compare");
    assert!((with - plain * factor).abs() < 1e-9 * plain, "{knob:?}: {with} from {plain}");
}

#[test]
fn width_and_rate_are_factors() {
    check(Parameter::VibratoWidth, 0.5, |view| view.width_cents, 0.5);
    check(Parameter::VibratoWidth, 2.0, |view| view.width_cents, 2.0);
    check(Parameter::VibratoWidth, 0.0, |view| view.width_cents, 0.0);
    check(Parameter::VibratoRate, 1.25, |view| view.rate_hz, 1.25);
    check(Parameter::VibratoWidth, 7.0, |view| view.width_cents, 2.0);
    check(Parameter::VibratoWidth, f64::NAN, |view| view.width_cents, 1.0);
}

#[test]
fn floor_and_ceiling_bound_the_level_within_the_instruments_own() {
    let level = |knobs: &[(Parameter, f64)], wheel| held(knobs, wheel).dynamics;
    let (low, high) = (level(&[], 0), level(&[], 127));
    let half = low + (high - low) * 0.5;
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
    close(level(&[(Parameter::Floor, 0.5)], 0), half);
    close(level(&[(Parameter::Floor, 0.5)], 127), high);
    close(level(&[(Parameter::Ceiling, 0.5)], 127), half);
    close(level(&[(Parameter::Ceiling, 0.5)], 0), low);
    close(level(&[(Parameter::Floor, 1.0), (Parameter::Ceiling, 0.0)], 60), high);
}

#[test]
fn a_held_style_stands_whatever_the_gesture_says() {
    for wheel in [0, 64, 127] {
        assert_eq!(held(&[(Parameter::Style, 0.0)], wheel).weights, [1.0, 0.0, 0.0, 0.0]);
        assert_eq!(held(&[(Parameter::Style, 0.25)], wheel).weights, [0.5, 0.5, 0.0, 0.0]);
        assert_eq!(held(&[(Parameter::Style, 1.0)], wheel).weights, [0.0, 0.0, 1.0, 0.0]);
    }
    assert_eq!(held(&[(Parameter::Style, -1.0)], 127), held(&[], 127));
}

#[test]
fn the_onset_is_a_factor_of_the_wait() {
    let starts_ms = |factor: f64| {
        let score = Score::new().wheel(0.0, 90);
        let score = score.at(0.0, Input::Parameter(Parameter::Onset, factor)).on(0.1, 70);
        let (views, _) = watch(&patch("erhu", "perform"), &score, 2.0);
        views.iter().position(|view| view.width_cents > 0.0).expect("vibrato") as i64 - 100
    };
    assert!(starts_ms(0.0) <= 1, "{}", starts_ms(0.0));
    let (half, plain) = (starts_ms(0.5), starts_ms(1.0));
    assert!(half < plain && plain < starts_ms(2.0), "{half} {plain} {}", starts_ms(2.0));
}

#[test]
fn a_tail_of_nothing_lets_the_off_pass_at_once() {
    let off_s = |factor: f64| {
        let score = Score::new().wheel(0.0, 90).note(0.1, 2.0, 70);
        let score = score.at(1.0, Input::Parameter(Parameter::Tail, factor));
        let sent = perform(&patch("erhu", "generic"), RATE_HZ, &[64], &score, 4.0);
        let off = sent
            .iter()
            .find(|sent| matches!(sent.message, polso_engine::Message::NoteOff { key: 70, .. }));
        off.expect("the off").frame as f64 / RATE_HZ - 2.0
    };
    assert_eq!(off_s(0.0), 0.0);
    let (plain, double) = (off_s(1.0), off_s(2.0));
    assert!(plain > 0.0);
    assert!((double - 2.0 * plain).abs() < 0.002, "{double} from {plain}");
}

#[test]
fn a_heavier_hand_arrives_later() {
    let at_12_ms = |factor: f64| {
        let score = Score::new().at(0.0, Input::Parameter(Parameter::Weight, factor));
        let score = score.wheel(0.0, 10).on(0.1, 70).wheel(1.0, 20);
        watch(&patch("erhu", "generic"), &score, 1.1).0[1012].gesture
    };
    assert!(at_12_ms(3.0) < at_12_ms(1.0) && at_12_ms(1.0) < at_12_ms(0.5));
}

#[test]
fn imperfection_and_seed_choose_another_performance_and_back() {
    let score = |knob, value| {
        let score = Score::new().at(0.0, Input::Parameter(knob, value));
        score.wheel(0.0, 90).note(0.1, 2.0, 70)
    };
    let play = |seed, scale, knob, value| {
        let patch = patch_with("erhu", "perform", Source::Controller(1), seed, scale);
        let sent = perform(&patch, RATE_HZ, &[64], &score(knob, value), 3.0);
        sent.into_iter().map(|sent| (sent.frame, sent.message)).collect::<Vec<_>>()
    };
    assert_eq!(play(4, 1.0, Parameter::Seed, 3.0), play(7, 1.0, Parameter::Seed, 0.0));
    assert_ne!(play(4, 1.0, Parameter::Seed, 3.0), play(4, 1.0, Parameter::Seed, 0.0));
    let whole = Parameter::Imperfection;
    assert_eq!(play(1, 1.0, whole, 0.0), play(1, 0.0, whole, 1.0));
    assert_eq!(play(1, 1.0, whole, 2.0), play(1, 2.0, whole, 1.0));
}

#[test]
fn a_knob_at_neutral_changes_no_message() {
    let score =
        Score::new().wheel_follows(0.0, 4.0, |s| 0.5 + 0.4 * (s * 0.7 - 1.0).clamp(-1.0, 1.0));
    let score = score.note(0.1, 1.4, 70).note(1.3, 2.6, 74).note(3.0, 3.8, 69);
    let touched = Parameter::ALL
        .iter()
        .fold(score.clone(), |score, knob| score.at(1.7, Input::Parameter(*knob, knob.range().1)));
    let patch = patch_with("erhu", "perform", Source::Controller(1), 1, 1.0);
    let sent = |score: &Score| {
        let sent = perform(&patch, RATE_HZ, &[100], score, 5.0);
        sent.into_iter().map(|sent| (sent.frame, sent.message)).collect::<Vec<_>>()
    };
    assert_eq!(sent(&touched), sent(&score));
}

#[test]
fn knobs_stay_turned_through_reset_panic_and_another_instrument() {
    let width = |engine: &mut Section| {
        let score = Score::new().wheel(0.0, 90).on(0.1, 70);
        perform_on(engine, RATE_HZ, &[64], &score, 2.5);
        engine.view().width_cents
    };
    let (erhu, violin) = (patch("erhu", "generic"), patch("violin", "generic"));
    let mut plain = Section::prepare(RATE_HZ, &violin);
    let plain = width(&mut plain);
    let mut engine = Section::prepare(RATE_HZ, &erhu);
    let knob = Input::Parameter(Parameter::VibratoWidth, 0.5);
    perform_on(&mut engine, RATE_HZ, &[64], &Score::new().at(0.0, knob), 0.1);
    engine.load(&violin);
    assert_eq!(width(&mut engine), 0.5 * plain);
    engine.reset();
    assert_eq!(width(&mut engine), 0.5 * plain);
    perform_on(&mut engine, RATE_HZ, &[64], &Score::new().at(0.0, Input::Panic), 0.1);
    assert_eq!(width(&mut engine), 0.5 * plain);
}
