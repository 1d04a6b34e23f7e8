//! Alive: as uneven as stated, and a long note swells and ebbs while the hand stands.

use crate::music::{even_violin, run};
use crate::rehearsal::{RATE_HZ, Score, Tape, watch};
use polso_engine::math::curve::Curve;
use polso_engine::patch::Patch;
use polso_engine::{Input, Message, Section, Timed};

const CYCLE_COUNT: usize = 2_000;

/// One style of 100 cents at 5 Hz, even about the pitch, full 10 ms after it has begun.
fn swinging() -> Patch {
    let mut patch = even_violin();
    let style = &mut patch.vibrato.styles[0];
    style.width_cents = Curve::constant(100.0);
    style.rate_hz = Curve::constant(5.0);
    (style.share_above, style.sharpness) = (0.5, 1.0);
    patch.vibrato.style_count = 1;
    patch.vibrato.growth_s = 0.01;
    patch
}

/// The pitch at every millisecond of a note without end.
fn pitches(patch: &Patch, count: usize) -> Vec<f64> {
    let mut engine = Section::prepare(RATE_HZ, patch);
    let at_start = |input| Timed { frame: 0, tag: 0, input };
    let on = Message::NoteOn { channel: 0, key: 72, velocity: 64 };
    let start = [at_start(Input::Gesture(0.5)), at_start(Input::Midi(on))];
    engine.process(1, &start, &mut Tape::default());
    let tick = |_| {
        engine.process(48, &[], &mut Tape::default());
        engine.view().pitch_cents
    };
    (0..count).map(tick).collect()
}

/// Rate and width of each cycle, as shares of the even ones: from one upward passage through the
/// note to the next.
fn cycles(pitches: &[f64]) -> Vec<(f64, f64)> {
    let passages =
        pitches.windows(2).enumerate().filter(|(_, pair)| pair[0] < 0.0 && pair[1] >= 0.0);
    let passages: Vec<(usize, f64)> = passages
        .map(|(place, pair)| (place, place as f64 + pair[0] / (pair[0] - pair[1])))
        .collect();
    let cycle = |pair: &[(usize, f64)]| {
        let inside = &pitches[pair[0].0..=pair[1].0];
        let low = inside.iter().copied().fold(0.0, f64::min);
        let high = inside.iter().copied().fold(0.0, f64::max);
        (200.0 / (pair[1].1 - pair[0].1), (high - low) / 100.0)
    };
    passages.windows(2).map(cycle).collect()
}

fn mean_and_spread(values: &[f64]) -> (f64, f64) {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let square = values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>();
    (mean, (square / values.len() as f64).sqrt())
}

/// The rate and the width of two thousand cycles stray by what is stated, within a twentieth: a
/// tenth is promised, and the spread of so many of such a chain has an error of 2.5 %.
#[track_caller]
fn check(rate_spread: f64, width_spread: f64) {
    let mut patch = swinging();
    (patch.vibrato.rate_spread, patch.vibrato.width_spread) = (rate_spread, width_spread);
    let cycles = cycles(&pitches(&patch, 201 * CYCLE_COUNT)[400..]);
    assert!(cycles.len() > CYCLE_COUNT - 100, "{}", cycles.len());
    let rates: Vec<f64> = cycles.iter().map(|cycle| cycle.0).collect();
    let widths: Vec<f64> = cycles.iter().map(|cycle| cycle.1).collect();
    for (what, values, stated) in [("rate", rates, rate_spread), ("width", widths, width_spread)] {
        let (mean, found) = mean_and_spread(&values);
        let sentence = format!("{what}: {stated} stated, {found} found about {mean}");
        assert!((found - stated).abs() <= 0.05 * stated, "{sentence}");
        assert!((mean - 1.0).abs() < 0.02, "{sentence}");
    }
}

#[test]
fn rate_and_width_stray_by_what_the_file_says() {
    // Up to the ceilings, 16 % and 25 %, the violin's 8 and 20 among them: 0.5 Hz within a note,
    // as published (0.35 to 0.75 Hz, SD, in the annotations of Yang, Rajab & Chew 2017).
    let rows = [(0.01, 0.01), (0.05, 0.08), (0.07, 0.12), (0.08, 0.20), (0.12, 0.16), (0.16, 0.25)];
    rows.into_iter().for_each(|(rate, width)| check(rate, width));
}

/// The vibrato of a first note at 1 s: the pace is 0.5 s, so the onset 0.7 of 180 ms.
const BEGAN_S: f64 = 1.126;

/// Widths at times since the vibrato began, cents, within a thousandth.
#[track_caller]
fn check_arch(sentence: &str, patch: &Patch, score: &Score, widths: &[(f64, f64)]) {
    let (views, _) = watch(patch, score, 8.0);
    for &(age_s, cents) in widths {
        let width = views[((BEGAN_S + age_s) * 1000.0).round() as usize].width_cents;
        assert!((width - cents).abs() < 1e-3, "{sentence}: {width} after {age_s} s, not {cents}");
    }
}

fn arched(arch: f64) -> Patch {
    let mut patch = swinging();
    patch.vibrato.arch = arch;
    patch.vibrato.join_keep = 1.0;
    patch
}

fn note() -> Score {
    Score::new().gesture(0.0, 0.5).on(1.0, 64)
}

#[test]
fn a_long_vibrato_swells_for_a_second_and_ebbs_for_two_and_a_half() {
    // W·(1 + 0.1·(sm(t) − 2·sm((t − 1)/2.5))): widest after a second, as far under after 3.5. Within
    // long erhu notes the published half-extent goes 45, 82, 50 cents, the player's own swell
    // included (Yang, Rajab & Chew 2017).
    let widths = [(0.25, 101.5625), (0.5, 105.0), (1.0, 110.0), (2.25, 100.0), (3.5, 90.0)];
    check_arch("arch", &arched(0.1), &note(), &widths);
    check_arch("it stays there", &arched(0.1), &note(), &[(5.0, 90.0)]);
    check_arch("at nothing it is off", &arched(0.0), &note(), &[(1.0, 100.0), (3.5, 100.0)]);
}

#[test]
fn a_slur_goes_on_along_the_arch() {
    let score = run(Score::new().gesture(0.0, 0.5), 1.0, 0.75, 0.76, &[64, 66, 64, 66, 64, 66]);
    check_arch("slurred", &arched(0.1), &score, &[(1.0, 110.0), (2.25, 100.0), (3.5, 90.0)]);
}

#[test]
fn a_moving_gesture_shapes_the_width_itself() {
    // From 1.6 s on it rises by 0.1 a second for two seconds, then it stands.
    let ramp = |score: Score, n: u32| {
        let s = 0.01 * f64::from(n);
        score.gesture(1.6 + s, 0.3 + 0.1 * s)
    };
    let score = (0..=200).fold(Score::new().gesture(0.0, 0.3).on(1.0, 64), ramp);
    let (views, _) = watch(&arched(0.1), &score, 6.0);
    let width = |at_s: f64| views[(at_s * 1000.0).round() as usize].width_cents;
    assert!((width(1.6) - 100.0 - 10.0 * 0.461_3).abs() < 0.05, "{}", width(1.6));
    // Half a second after it has begun to move, and as long as it moves.
    for at_s in [2.2, 2.8, 3.5] {
        assert_eq!(width(at_s), 100.0, "{at_s} s");
    }
    // It comes back within another half second; by then it is 3.2 s old.
    assert!(width(3.8) < 99.0 && width(3.8) > 92.0, "{}", width(3.8));
    assert!((width(5.0) - 90.0).abs() < 1e-3, "{}", width(5.0));
    // Nothing of it snaps.
    for pair in views[1_200..].windows(2) {
        assert!((pair[1].width_cents - pair[0].width_cents).abs() < 0.2, "{:?}", pair[1]);
    }
}
