//! How fast a level and a rate may move, tick by tick, whatever the gesture does.

use crate::music::{bare, bends, even_violin};
use crate::rehearsal::{Score, watch};
use polso_engine::math::curve::Curve;
use polso_engine::{Mode, View};

/// The furthest that a value moves in a millisecond, from 1.1 s on.
fn furthest_step(views: &[View], value: impl Fn(&View) -> f64) -> f64 {
    let steps = views[1100..].windows(2).map(|pair| (value(&pair[1]) - value(&pair[0])).abs());
    steps.fold(0.0, f64::max)
}

/// A gesture that goes from nothing to full between two times.
fn swell(begin_s: f64, end_s: f64) -> Score {
    let share = |seconds: f64| ((seconds - begin_s) / (end_s - begin_s)).clamp(0.0, 1.0);
    (0..400).fold(Score::new().gesture(0.0, 0.2).on(1.0, 72), |score, step| {
        let seconds = 1.2 + 0.001 * f64::from(step);
        score.gesture(seconds, 0.2 + 0.8 * share(seconds))
    })
}

#[test]
fn a_steep_curve_is_followed_at_eight_times_the_range_a_second_and_no_faster() {
    let mut patch = bare("violin", "perform");
    patch.dynamics.curve =
        Curve::through(&[(0.0, 0.0), (0.55, 0.0), (0.65, 1.0), (1.0, 1.0)]).expect("a curve");
    let (views, _) = watch(&patch, &swell(1.25, 1.40), 2.0);
    let step = furthest_step(&views, |view| view.dynamics);
    assert!((0.0079..=0.008 + 1e-9).contains(&step), "{step}");
}

#[test]
fn the_rate_moves_three_hertz_a_second_also_for_those_who_look_between_its_steps() {
    let (views, _) = watch(&even_violin(), &swell(1.25, 1.30), 2.0);
    let step = furthest_step(&views, |view| view.rate_hz);
    assert!((0.0029..=0.003 + 1e-9).contains(&step), "{step}");
}

/// A breath that says again that it is at nothing goes on being held from when it fell there.
#[test]
fn a_breath_gap_is_held_no_longer_when_nothing_is_said_twice() {
    let mode = |says: &[f64]| {
        let mut patch = bare("violin", "perform");
        patch.hand.is_breath = true;
        let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).on(1.5, 76).off(2.0, 76);
        let score = says.iter().fold(score, |score, at_s| score.gesture(*at_s, 0.0));
        let (views, _) = watch(&patch, &score.on(2.16, 79), 2.2);
        views[2190].mode
    };
    // Held for 0.12 s and then let go over 60 ms: at 2.16 s a quarter of it is left, or three where
    // it fell 20 ms later.
    assert_eq!(mode(&[2.0]), Mode::Quick);
    assert_eq!(mode(&[2.0, 2.02]), Mode::Quick);
    assert_eq!(mode(&[2.02]), Mode::Joined);
}

/// A slur that recovers more slowly than a vibrato grows recovers wholly all the same.
#[test]
fn a_slow_recovery_goes_on_when_all_else_stands() {
    let mut patch = even_violin();
    (patch.vibrato.onset_s, patch.vibrato.growth_s) = (0.020, 0.050);
    patch.vibrato.join_recover_s = 2.0;
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 2.05, 72).on(2.0, 74);
    let (views, sent) = watch(&patch, &score, 4.5);
    // What goes out swings through 40 cents again: a tenth of 16,384 steps for four semitones.
    let late = bends(&sent).into_iter().filter(|(at_s, _)| *at_s > 4.1).map(|(_, bend)| bend);
    let (lowest, highest) = late.fold((u16::MAX, 0), |(low, high), it| (low.min(it), high.max(it)));
    assert!((1_590..=1_640).contains(&(highest - lowest)), "{lowest} to {highest}");
    // 0.03 s down to 0.15 of 40 cents, 0.06 s there, then 2 s along the smooth step.
    for (at_s, width_cents) in [(1.9, 40.0), (2.05, 6.0), (3.09, 23.0), (4.2, 40.0)] {
        let found = views[(at_s * 1000.0_f64).round() as usize].width_cents;
        assert!((found - width_cents).abs() < 1e-6, "at {at_s} s: {found}");
    }
}

/// A width that is next to nothing is none: to weigh rate and share by it gave no number at all.
#[test]
fn a_style_of_no_width_to_speak_of_does_not_swing() {
    let mut patch = even_violin();
    patch.vibrato.styles[1].width_cents = Curve::constant(1e-310);
    let (views, _) = watch(&patch, &Score::new().gesture(0.0, 0.5).on(1.0, 72), 2.5);
    assert!(views.iter().all(|view| view.pitch_cents == 0.0 && view.rate_hz > 0.0));
}

/// A share next to nothing, and one whose blend strays beyond 1, begin where their ends do.
#[test]
fn a_share_at_its_end_begins_a_swing() {
    for share in [1e-310, 1.0] {
        for step in 0..60 {
            let mut patch = even_violin();
            patch.vibrato.styles.iter_mut().for_each(|style| style.share_above = share);
            patch.vibrato.styles[0].width_cents = Curve::constant(31.0);
            let gesture = 0.1 + f64::from(step) * 0.0033;
            let (views, _) = watch(&patch, &Score::new().gesture(0.0, gesture).on(0.2, 72), 0.8);
            assert!(views.iter().all(|it| it.pitch_cents.is_finite()), "{share} at {gesture}");
            assert!(views.iter().any(|it| it.pitch_cents.abs() > 5.0), "{share} at {gesture}");
        }
    }
}
