//! In tune: a swing begins on the pitch, and then the ear brings its mean there.
//!
//! The heard pitch of a vibrato is its mean (Brown & Vaughn 1993; JASA 100, 1996).

use crate::music::{at, bare, even_violin};
use crate::rehearsal::{Score, watch};
use polso_engine::View;
use polso_engine::math::curve::Curve;
use polso_engine::patch::{FirstMovement, Patch};

/// A pressed style: 100 cents above the pitch at 5 Hz, sharpness 2, full at once. Its mean is
/// W·Γ(q + ½)/(√π·Γ(q + 1)) = 37.5 cents.
fn pressed(centre: f64) -> Patch {
    let mut patch = even_violin();
    let style = &mut patch.vibrato.styles[0];
    style.width_cents = Curve::constant(100.0);
    style.rate_hz = Curve::constant(5.0);
    (style.share_above, style.sharpness, style.centre) = (1.0, 2.0, centre);
    patch.vibrato.style_count = 1;
    patch.vibrato.first_movement = FirstMovement::Up;
    patch.vibrato.growth_s = 0.01;
    patch
}

/// The vibrato of a first note at 1 s: the pace is 0.5 s, so the onset 0.7 of 180 ms.
const BEGAN_S: f64 = 1.126;

fn note() -> Score {
    Score::new().gesture(0.0, 1.0).on(1.0, 64)
}

/// Pitches at times since the vibrato began, cents, within a hundredth.
#[track_caller]
fn check(sentence: &str, patch: &Patch, pitches: &[(f64, f64)]) {
    let (views, _) = watch(patch, &note(), 4.0);
    for &(age_s, cents) in pitches {
        let pitch = at(&views, BEGAN_S + age_s).pitch_cents;
        assert!((pitch - cents).abs() < 0.01, "{sentence}: {pitch} after {age_s} s, not {cents}");
    }
}

#[test]
fn the_mean_is_taken_off_along_the_smooth_step() {
    // At odd tenths of a second the swing is at its top, 100·(1 − 0.8·0.375·sm(t/0.5)): sm(0.2) is
    // 0.104 and sm(0.6) 0.648. At even tenths it is at the bottom: −30·sm(t/0.5).
    let tops = [(0.1, 96.88), (0.3, 80.56), (0.5, 70.0), (1.1, 70.0)];
    check("tops", &pressed(0.8), &tops);
    check("bottoms", &pressed(0.8), &[(0.0, 0.0), (0.2, -10.56), (0.4, -26.88), (0.6, -30.0)]);
    let mut soon = pressed(0.8);
    soon.vibrato.settle_s = 0.2;
    check("settled in 0.2 s", &soon, &[(0.1, 85.0), (0.2, -30.0), (0.3, 70.0)]);
    check("left as it is", &pressed(0.0), &[(0.1, 100.0), (0.2, 0.0), (1.1, 100.0)]);
}

#[test]
fn a_slur_goes_on_in_tune_and_a_fresh_note_settles_anew() {
    let mut patch = pressed(1.0);
    patch.vibrato.join_keep = 1.0;
    let mean = |views: &[View], from_s: f64| {
        let first = (from_s * 1000.0).round() as usize;
        views[first..first + 200].iter().map(|view| view.pitch_cents).sum::<f64>() / 200.0
    };
    let slurred = note().off(2.01, 64).on(2.0, 66);
    let (views, _) = watch(&patch, &slurred, 3.0);
    assert!(mean(&views, 2.05).abs() < 0.01, "slurred: {}", mean(&views, 2.05));
    // Struck afresh after a rest, it begins on the pitch again: T0 is 180 ms · 0.7 once more.
    let fresh = note().off(2.0, 64).on(3.0, 66);
    let (views, _) = watch(&patch, &fresh, 5.0);
    let sharp = mean(&views, 3.126);
    assert!((25.0..37.5).contains(&sharp), "fresh: {sharp}");
    assert!(mean(&views, 3.7).abs() < 0.01, "settled: {}", mean(&views, 3.7));
}

/// A blend takes off what each style's share of the width says: half rolled and half pressed, the
/// middle of the crossfade, weighted by the widths.
#[test]
fn a_blend_is_corrected_by_the_share_of_each_style() {
    let mut erhu = bare("erhu", "perform");
    erhu.vibrato.register_per_semitone = 0.0;
    let styles = erhu.vibrato.styles;
    let (rolled, press) = (styles[1].width_cents.at(0.82), styles[2].width_cents.at(0.82));
    let share = press / (rolled + press);
    let (u, q) = (0.5 + 0.5 * share, 1.0 + 0.3 * share);
    let mean = libm::tgamma(q + 0.5) / (libm::sqrt(std::f64::consts::PI) * libm::tgamma(q + 1.0));
    let centre = 0.9 * (1.0 - share) + 0.82 * share;
    let expected = (rolled + press) / 2.0 * (2.0 * u - 1.0) * mean * (1.0 - centre);
    let (views, _) = watch(&erhu, &Score::new().gesture(0.0, 0.82).on(1.0, 74), 6.0);
    let cycle_s = 1.0 / at(&views, 3.0).rate_hz;
    let length = (10.0 * cycle_s * 1000.0).round() as usize;
    let found = views[3_000..3_000 + length].iter().map(|view| view.pitch_cents).sum::<f64>();
    let found = found / length as f64;
    assert!((found - expected).abs() < 0.1, "{found}, not {expected}");
    assert!((2.0..6.0).contains(&expected), "{expected}");
}
