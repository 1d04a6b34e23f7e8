//! Which way the pitch swings: to both sides, only above, only below, and how fast it may change.

use crate::music::{at, bare, bends, even_violin, jumping, run, value_at};
use crate::rehearsal::{Score, watch};
use polso_engine::View;
use polso_engine::math::curve::Curve;
use polso_engine::patch::{FirstMovement, Patch};

/// Lowest, highest and mean pitch between two times, cents, each within a hundredth of a cent.
fn check(sentence: &str, views: &[View], from_s: f64, to_s: f64, expected: [f64; 3]) {
    let part = &views[(from_s * 1000.0).round() as usize..(to_s * 1000.0).round() as usize];
    let cents = || part.iter().map(|view| view.pitch_cents);
    let lowest = cents().fold(f64::INFINITY, f64::min);
    let highest = cents().fold(f64::NEG_INFINITY, f64::max);
    let mean = cents().sum::<f64>() / part.len() as f64;
    let found = [lowest, highest, mean];
    let is_near =
        found.iter().zip(expected).all(|(found, expected)| (found - expected).abs() < 0.01);
    assert!(is_near, "{sentence}: lowest, highest, mean {found:?}, not {expected:?}");
}

/// One style, 100 cents wide at 5 Hz: 200 ticks a cycle, so the mean of one is exact.
fn one_style(share_above: f64, sharpness: f64) -> Patch {
    let mut patch = even_violin();
    let style = &mut patch.vibrato.styles[0];
    style.width_cents = Curve::constant(100.0);
    style.rate_hz = Curve::constant(5.0);
    style.share_above = share_above;
    style.sharpness = sharpness;
    style.level_swing_db = 0.0;
    style.centre = 0.0;
    patch.vibrato.style_count = 1;
    patch.vibrato.first_movement = FirstMovement::Up;
    patch.vibrato.growth_s = 0.1;
    patch
}

fn long_note(patch: &Patch) -> Vec<View> {
    watch(patch, &Score::new().gesture(0.0, 1.0).on(0.0, 64), 3.0).0
}

#[test]
fn a_swing_goes_as_far_above_as_its_share() {
    // p = W(u·a^q − (1−u)(1−a)^q): highest u·W at a = 1, lowest −(1−u)·W at a = 0. The mean of a
    // is ½ and of a² 3/8, so the mean is W(2u−1)·½ for q = 1 and W(2u−1)·3/8 for q = 2.
    for (share, sharpness, expected) in [
        (0.5, 1.0, [-50.0, 50.0, 0.0]),
        (0.45, 1.0, [-55.0, 45.0, -5.0]),
        (1.0, 1.0, [0.0, 100.0, 50.0]), // W/2: the one-sided identity
        (1.0, 2.0, [0.0, 100.0, 37.5]),
        (0.0, 1.0, [-100.0, 0.0, -50.0]),
        (0.0, 2.0, [-100.0, 0.0, -37.5]),
        (0.75, 2.0, [-25.0, 75.0, 18.75]),
    ] {
        let views = long_note(&one_style(share, sharpness));
        check(&format!("share {share}, q {sharpness}"), &views, 1.0, 1.2, expected);
    }
}

#[test]
fn centre_takes_its_share_of_the_mean_off() {
    for (centre, expected) in [(0.0, 37.5), (0.5, 18.75), (1.0, 0.0)] {
        let mut patch = one_style(1.0, 2.0);
        patch.vibrato.styles[0].centre = centre;
        let range = [expected - 37.5, expected + 62.5, expected];
        check(&format!("centre {centre}"), &long_note(&patch), 1.0, 1.2, range);
    }
}

#[test]
fn the_pressed_style_never_falls_below_the_pitch_unless_the_ear_corrects_it() {
    // Above gesture 0.92 the erhu is all pressed, share above 1; 110 cents at full.
    let mut erhu = jumping(bare("erhu", "perform"));
    erhu.vibrato.styles.iter_mut().for_each(|style| style.centre = 0.0);
    let score = Score::new().gesture(0.0, 1.0);
    let score = run(score, 1.0, 0.7, 0.72, &[72, 74, 76, 77, 84, 74]).gesture(3.0, 0.93);
    let (views, sent) = watch(&erhu, &score, 6.0);
    let lowest = views.iter().map(|view| view.pitch_cents).fold(0.0, f64::min);
    assert_eq!(lowest, 0.0);
    assert!(bends(&sent).iter().all(|&(_, bend)| bend >= 8192));
    assert!(bends(&sent).iter().any(|&(_, bend)| bend > 8192 + 3000), "it does swing");
}

#[test]
fn the_finger_style_never_rises_above_the_pitch_unless_the_ear_corrects_it() {
    // 60 cents at full: down to −60, never above.
    let mut dizi = bare("dizi-d", "perform");
    dizi.vibrato.styles.iter_mut().for_each(|style| style.centre = 0.0);
    let score = Score::new().gesture(0.0, 1.0).on(1.0, 74);
    let (views, sent) = watch(&dizi, &score, 4.0);
    let highest = views.iter().map(|view| view.pitch_cents).fold(0.0, f64::max);
    assert_eq!(highest, 0.0);
    // −60 cents of ±200 is −0.3·8192 = −2457.6 steps.
    let lowest = bends(&sent).iter().map(|&(_, bend)| bend).min();
    assert_eq!(lowest, Some(8192 - 2458));
    assert!(bends(&sent).iter().all(|&(_, bend)| bend <= 8192));
}

#[test]
fn the_swing_starts_on_the_pitch_and_moves_its_first_way() {
    // Violin down (Allen, Geringer & MacLeod 2009: the first movement goes down), erhu up.
    for (instrument, sign) in [("violin", -1.0), ("erhu", 1.0)] {
        let mut patch = bare(instrument, "perform");
        patch.vibrato.register_per_semitone = 0.0;
        let score = Score::new().gesture(0.0, 0.5).on(1.0, 72);
        let (views, _) = watch(&patch, &score, 2.0);
        let swing = views.iter().find(|view| view.pitch_cents != 0.0).expect("a swing");
        assert!(swing.pitch_cents.abs() < 0.1, "{instrument}: {}", swing.pitch_cents);
        // The first quarter of a cycle goes one way: 1/5.6 Hz is 179 ms, so until 40 ms on.
        let start = (swing.time_s * 1000.0).round() as usize;
        for view in &views[start..start + 40] {
            assert!(view.pitch_cents * sign > 0.0, "{instrument}: {}", view.pitch_cents);
        }
    }
}

#[test]
fn a_sine_is_a_sine() {
    // Onset 126 ms, pace 0.5; a cycle at 5 Hz is 200 ms. After eighths of a cycle sin is
    // 0, 0.70711, 1, 0.70711, 0, −0.70711, −1, of half the width.
    let views = long_note(&one_style(0.5, 1.0));
    let eighths = [0.0, 35.355_339, 50.0, 35.355_339, 0.0, -35.355_339, -50.0];
    for (place, cents) in eighths.into_iter().enumerate() {
        let view = at(&views, 1.126 + 0.025 * place as f64);
        assert!((view.pitch_cents - cents).abs() < 1e-5, "eighth {place}: {}", view.pitch_cents);
    }
}

#[test]
fn a_vibrato_that_starts_between_ticks_is_not_late() {
    // T0 0.2755 s at pace 0.5: due at 0.19285 s. 0.1 s of growth: half width at 0.24285 s, where
    // 48.57 % of a cycle of 100 ms (10 Hz) has passed; all is continuous, so at the tick 0.243 s
    // the turn is 0.5015 and the pitch −½·W·sin(2π·0.0015)·E with u = 0.5015, E = 0.50225.
    let mut patch = one_style(0.5, 1.0);
    patch.vibrato.onset_s = 0.2755;
    patch.vibrato.styles[0].rate_hz = Curve::constant(10.0);
    let view = *at(&long_note(&patch), 0.243);
    // 50·0.50225·sin(2π·0.5015) = −0.23668 cents; begun at the tick 0.193 s it would be 0.
    assert!((view.width_cents - 50.225).abs() < 1e-3, "{}", view.width_cents);
    assert!((view.pitch_cents - -0.236_68).abs() < 1e-3, "{}", view.pitch_cents);
}

#[test]
fn the_rate_moves_by_three_hertz_a_second_at_most() {
    // Violin: 5.0 Hz at rest, 7.2 at full, 2.2/3 = 0.733 s of the way.
    let score = Score::new().gesture(0.0, 0.0).gesture(1.0, 1.0).on(0.5, 64);
    let (views, _) = watch(&bare("violin", "perform"), &score, 3.0);
    let steps = views.windows(2).map(|pair| (pair[1].rate_hz - pair[0].rate_hz).abs());
    let fastest = steps.fold(0.0, f64::max);
    assert!((fastest - 0.003).abs() < 1e-9, "{fastest}");
    assert!((at(&views, 0.9).rate_hz - 5.0).abs() < 1e-9);
    assert!(at(&views, 1.7).rate_hz < 7.15 && (at(&views, 1.8).rate_hz - 7.2).abs() < 1e-9);
}

#[test]
fn a_plain_style_narrows_the_vibrato_and_pulls_on_nothing_else() {
    // Violin at 0.2: w = sm((0.2 − 0.1)/0.2) = 0.5 of 0.2/0.5·40 = 16 cents as the curve has it;
    // the rate stands on the rolled curve alone.
    let patch = even_violin();
    let rolled = patch.vibrato.styles[1];
    let (views, _) = watch(&patch, &Score::new().gesture(0.0, 0.2).on(1.0, 64), 3.0);
    let view = at(&views, 3.0);
    assert!((view.width_cents - 0.5 * rolled.width_cents.at(0.2)).abs() < 1e-9);
    assert!((view.rate_hz - rolled.rate_hz.at(0.2)).abs() < 1e-9);
}

#[test]
fn the_pitch_never_jumps() {
    // |Δp| over 1 ms is at most 1.3·2πf·Δt·W/2 + 2 cents, and within 80 ms of a note event
    // W·Δt/25 ms more, and |ΔW| always (our model; W as asked, 120 cents is the erhu's widest).
    let score = run(Score::new().gesture(0.0, 0.8), 0.5, 0.45, 0.46, &[72, 74, 62, 76, 69, 72]);
    let (views, sent) = watch(&bare("erhu", "perform"), &score, 4.0);
    for pair in views.windows(2) {
        let width_cents = pair[1].width_cents.max(pair[0].width_cents);
        let swing = 1.3 * std::f64::consts::TAU * pair[1].rate_hz * 0.001 * width_cents / 2.0;
        let widening = (pair[1].width_cents - pair[0].width_cents).abs();
        let allowed = swing + 2.0 + widening + width_cents * 0.001 / 0.025;
        let step = (pair[1].pitch_cents - pair[0].pitch_cents).abs();
        assert!(step <= allowed, "{step} > {allowed} at {} s", pair[1].time_s);
    }
    assert_eq!(value_at(&bends(&sent), 4.0), Some(8192), "centred in the rest");
}
