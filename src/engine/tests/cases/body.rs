//! What else swings with the pitch: level and brightness, as far and as late as the body lets them.

use crate::music::{bare, bends, only, run, said, with};
use crate::rehearsal::{Score, output, patch, watch};
use polso_engine::patch::{Address, Patch, Reading};
use polso_engine::{Layer, View};

/// An instrument whose body swings, alike in every register.
fn swung(instrument: &str, target: &str) -> Patch {
    let whole = patch(instrument, target).vibrato;
    let mut patch = bare(instrument, target);
    patch.vibrato.styles = whole.styles;
    patch.vibrato.brightness_swing = whole.brightness_swing;
    patch.vibrato.register_per_semitone = 0.0;
    patch
}

/// A long note from 0.5 s on under a gesture that stands.
fn long_note(gesture: f64) -> Score {
    Score::new().gesture(0.0, gesture).on(0.5, 74)
}

/// Lowest and highest of what the views say from 2 s on.
fn ends(views: &[View], value: impl Fn(&View) -> f64) -> (f64, f64) {
    let values = || views[2_000..].iter().map(&value);
    (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
}

/// Lowest and highest level, decibels, under a gesture that stands: the peaks lie between two ticks,
/// so within 0.002 dB.
#[track_caller]
fn check(sentence: &str, patch: &Patch, gesture: f64, expected: (f64, f64)) {
    let (views, _) = watch(patch, &long_note(gesture), 4.0);
    let (lowest, highest) = ends(&views, |view| view.level_db);
    let is_near = (lowest - expected.0).abs() < 0.002 && (highest - expected.1).abs() < 0.002;
    assert!(is_near, "{sentence} at {gesture}: {lowest} to {highest} dB, not {expected:?}");
    let dynamics = ends(&views, |view| view.dynamics);
    assert_eq!(dynamics.0, dynamics.1, "{sentence}: the dynamics are without the swing");
}

#[test]
fn the_level_swings_by_the_decibels_of_the_style() {
    // Recorded single notes swing by 2.3 dB (violin) and 3.1 dB (flute) peak to peak; partials
    // swing by the body's resonances (Fletcher & Sanders 1967; Mellody & Wakefield 1997). Violin:
    // D = 0.06 + 0.94·0.5 = 0.53 of 30 dB, −14.1 dB; erhu 0.56, −13.2 dB; dizi 0.625 of 22 dB.
    check("violin", &swung("violin", "perform"), 0.5, (-14.1 - 1.15, -14.1 + 1.15));
    check("erhu", &swung("erhu", "perform"), 0.5, (-13.2 - 1.0, -13.2 + 1.0));
    check("dizi", &swung("dizi-d", "perform"), 0.5, (-8.25 - 1.5, -8.25 + 1.5));
    // A finger beats over a hole: no breath in it.
    check("dizi, finger", &swung("dizi-d", "perform"), 1.0, (0.0, 0.0));
}

#[test]
fn a_narrow_vibrato_moves_the_body_less_and_a_wide_one_no_more() {
    // Violin at 0.2: half plain, so 0.5·W(0.2) beside W(0.5) = 40 cents. D = 0.248, −22.56 dB.
    let violin = swung("violin", "perform");
    let narrow = 0.5 * violin.vibrato.styles[1].width_cents.at(0.2) / 40.0;
    assert!((0.1..0.25).contains(&narrow), "{narrow}");
    let reach = 1.15 * narrow;
    check("narrow", &violin, 0.2, (-22.56 - reach, -22.56 + reach));
    // At 0.8 the width is more than that of 0.5: D = 0.812, −5.64 dB.
    check("wide", &violin, 0.8, (-5.64 - 1.15, -5.64 + 1.15));
    // Narrowed by its control, as by the gesture.
    let mut half = violin;
    half.vibrato.width_scale = 0.5;
    check("scaled", &half, 0.5, (-14.1 - 0.575, -14.1 + 0.575));
}

#[test]
fn the_swing_is_never_cut_off_at_either_end() {
    // At full the middle moves inwards by the whole reach, at the bottom too.
    let mut violin = swung("violin", "perform");
    check("full", &violin, 1.0, (-2.3, 0.0));
    (violin.dynamics.floor, violin.dynamics.ceiling) = (0.0, 0.0);
    check("bottom", &violin, 0.5, (-30.0, -27.7));
    // A span of 3 dB and a swing of 12: half the span either way.
    violin.dynamics.span_db = 3.0;
    violin.vibrato.styles[1].level_swing_db = 12.0;
    check("no room", &violin, 0.5, (-3.0, 0.0));
}

#[test]
fn a_gm2_receiver_hears_the_swing_in_its_dynamics() {
    // 40·log10 (GM2 3.3.4): full is 127, 2.3 dB under it 127·10^(−2.3/40) = 111.25. The dizi at half
    // gesture: 127·10^(−6.75/40) = 86.1 and 127·10^(−9.75/40) = 72.5.
    for (instrument, gesture, numbers) in [("violin", 1.0, (111, 127)), ("dizi-d", 0.5, (72, 86))] {
        let mut patch = swung(instrument, "perform");
        patch.target.outputs[0].interval_s = 0.001; // so that no peak falls between two messages
        let (_, sent) = watch(&patch, &long_note(gesture), 4.0);
        let later = said(&sent, 11).into_iter().filter(|said| said.0 > 2.0).map(|said| said.1);
        let found = (later.clone().min().unwrap_or(0), later.max().unwrap_or(0));
        assert_eq!(found, numbers, "{instrument}");
    }
}

/// Dynamics on CC 7 and, where it has a reading, expression on CC 11.
fn levels(dynamics: Reading, expression: Option<Reading>) -> Patch {
    let mut level = output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
    level.reading = dynamics;
    let patch = only(swung("violin", "perform"), level);
    let Some(reading) = expression else { return patch };
    let mut level = output(Layer::Expression, Address::Controller(11), 0.0, 1.0);
    level.reading = reading;
    with(patch, level)
}

/// How many different numbers two controllers say while the gesture stands, and the last one's ends.
fn numbers(patch: &Patch) -> (usize, usize, Option<(u8, u8)>) {
    let (_, sent) = watch(patch, &long_note(0.5), 4.0);
    let of = |controller: u8| -> Vec<u8> {
        let later = said(&sent, controller).into_iter().filter(|said| said.0 > 2.0);
        let mut numbers: Vec<u8> = later.map(|said| said.1).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    };
    let (dynamics, expression) = (of(7), of(11));
    let ends = expression.first().copied().zip(expression.last().copied());
    (dynamics.len(), expression.len(), ends)
}

#[test]
fn the_swing_goes_where_a_level_is_heard_by_a_law_and_never_to_a_position() {
    let (position, gm2) = (Reading::Straight, Reading::Gm2);
    // On expression it lies below full by half its size: full at its highest, 111.25 at its lowest.
    assert_eq!(numbers(&levels(position, Some(gm2))), (0, 17, Some((111, 127))));
    let (dynamics, expression, _) = numbers(&levels(gm2, Some(gm2)));
    assert!(dynamics > 5 && expression == 0, "{dynamics} and {expression} numbers");
    assert_eq!(numbers(&levels(position, Some(position))), (0, 0, None));
    assert_eq!(numbers(&levels(position, None)), (0, 0, None));
    check("position", &levels(position, None), 0.5, (-14.1, -14.1));
}

#[test]
fn nothing_swings_where_the_receiver_makes_the_vibrato() {
    let (views, sent) = watch(&swung("violin", "generic"), &long_note(0.5), 4.0);
    assert!(said(&sent, 11).iter().all(|said| said.0 < 1.0), "{:?}", said(&sent, 11));
    assert_eq!(ends(&views, |view| view.level_db), (-14.1, -14.1));
    let (lowest, highest) = ends(&views, |view| view.brightness);
    assert_eq!(lowest, highest);
}

/// By how many degrees the level is ahead of the pitch, 0..360, over a few whole cycles.
fn ahead_degrees(views: &[View], from_s: f64) -> f64 {
    let first = (from_s * 1000.0).round() as usize;
    let length = (3.0 / views[first].rate_hz * 1000.0).round() as usize;
    let part = &views[first - 1..=first + length];
    let mean =
        |value: &dyn Fn(&View) -> f64| part.iter().map(value).sum::<f64>() / part.len() as f64;
    let (pitch, level) = (mean(&|view| view.pitch_cents), mean(&|view| view.level_db));
    let (mut with_sine, mut with_cosine) = (0.0, 0.0);
    let turn_per_tick = std::f64::consts::TAU * views[first].rate_hz / 1000.0;
    for three in part.windows(3) {
        let level = three[1].level_db - level;
        with_sine += level * (three[1].pitch_cents - pitch);
        with_cosine +=
            level * (three[2].pitch_cents - three[0].pitch_cents) / (2.0 * turn_per_tick);
    }
    libm::atan2(with_cosine, with_sine).to_degrees().rem_euclid(360.0)
}

#[test]
fn a_winds_level_follows_its_pitch_by_twenty_degrees() {
    let (views, _) = watch(&swung("dizi-d", "perform"), &long_note(0.5), 4.0);
    let ahead = ahead_degrees(&views, 3.0);
    assert!((ahead - 340.0).abs() < 2.0, "{ahead} degrees");
}

#[test]
fn a_string_draws_its_place_at_each_fresh_note_and_keeps_it_through_a_slur() {
    // Four slurred notes, a slurred run that loses the vibrato, one more of the same slur; then four
    // that are struck apart.
    let slurred = run(Score::new().gesture(0.0, 0.5), 0.5, 1.0, 1.01, &[74, 76, 74, 76]);
    let slurred = run(slurred, 4.5, 0.2, 0.21, &[77, 79, 77, 79]).note(5.3, 7.5, 74);
    let score = run(slurred, 8.0, 1.5, 1.0, &[74, 76, 74, 76]);
    let mut violin = swung("violin", "perform");
    violin.vibrato.join_keep = 1.0;
    let (views, sent) = watch(&violin, &score, 14.0);
    assert!(bends(&sent).len() > 500);
    assert_eq!((views[5_250].width_cents, views[5_350].width_cents), (0.0, 0.0));
    let slurred = [0.95, 1.95, 2.95, 3.95, 6.5].map(|at_s| ahead_degrees(&views, at_s));
    let fresh = [8.5, 10.0, 11.5, 13.0].map(|at_s| ahead_degrees(&views, at_s));
    let apart = |a: f64, b: f64| (a - b + 180.0).rem_euclid(360.0) - 180.0;
    for ahead in &slurred {
        assert!(apart(*ahead, slurred[0]).abs() < 4.0, "slurred: {slurred:?}");
    }
    for (place, ahead) in fresh.iter().enumerate() {
        let others = fresh[..place].iter().chain(&slurred[..1]);
        let nearest = others.map(|other| apart(*ahead, *other).abs()).fold(360.0, f64::min);
        assert!(nearest > 5.0, "fresh: {fresh:?}, slurred {slurred:?}");
    }
}

#[test]
fn the_brightness_is_the_level_and_swings_by_its_own_share() {
    // Violin 0.06 of the whole: D = 0.53 ± 0.03; at full it is cut off at 1 and goes to 0.97.
    let violin = with(
        swung("violin", "perform"),
        output(Layer::Brightness, Address::Controller(74), 0.0, 1.0),
    );
    for (gesture, expected) in [(0.5, (0.5, 0.56)), (1.0, (0.97, 1.0))] {
        let (views, sent) = watch(&violin, &long_note(gesture), 4.0);
        let (lowest, highest) = ends(&views, |view| view.brightness);
        let is_near = (lowest - expected.0).abs() < 1e-4 && (highest - expected.1).abs() < 1e-4;
        assert!(is_near, "{gesture}: {lowest} to {highest}");
        let later = said(&sent, 74).into_iter().filter(|said| said.0 > 2.0).map(|said| said.1);
        let found = (later.clone().min().unwrap_or(0), later.max().unwrap_or(0));
        let whole = |share: f64| (127.0 * share).round() as i16;
        // The swing is a step of 5 ms, so its last peak may be missed by a number.
        assert!((i16::from(found.0) - whole(expected.0)).abs() <= 1, "{gesture}: {found:?}");
        assert!((i16::from(found.1) - whole(expected.1)).abs() <= 1, "{gesture}: {found:?}");
    }
    // It has no swing of its own where the file gives none.
    let (views, _) = watch(&swung("erhu", "perform"), &long_note(0.5), 4.0);
    assert_eq!(ends(&views, |view| view.brightness), (0.56, 0.56));
}

/// Where the style has no width nothing swings: a soft flute once shook by 3.1 dB without a vibrato.
#[test]
fn no_width_moves_no_body() {
    for instrument in ["violin", "dizi-d"] {
        for gesture in [0.0, 0.05, 0.0998] {
            let (views, sent) = watch(&swung(instrument, "perform"), &long_note(gesture), 4.0);
            let (lowest, highest) = ends(&views, |view| view.level_db);
            assert_eq!(lowest, highest, "{instrument} at {gesture}");
            assert!(sent.iter().all(|it| it.frame < 48_000 * 3 / 2), "{instrument} at {gesture}");
        }
        // Nor does it leap where the width begins.
        let score = (0..1_000).fold(long_note(0.06), |score, ms| {
            score.gesture(1.5 + 0.001 * f64::from(ms), 0.06 + 0.000_06 * f64::from(ms))
        });
        let (views, _) = watch(&swung(instrument, "perform"), &score, 4.0);
        let steps =
            views[1_600..].windows(2).map(|pair| (pair[1].level_db - pair[0].level_db).abs());
        let furthest = steps.fold(0.0, f64::max);
        assert!(furthest < 0.06, "{instrument}: {furthest} dB in a millisecond");
    }
}
