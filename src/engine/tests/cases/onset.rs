//! When a note's vibrato begins and how it grows: never in a fast run, soon when the hand asks.

use crate::music::{at, bare, even_violin, jumping, run};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::Patch;
use polso_engine::reason::Reason;

/// Widths at their seconds, cents peak to peak, exact to a ten-thousandth of a cent.
fn check(sentence: &str, patch: &Patch, score: &Score, widths: &[(f64, f64)]) {
    let end_s = widths.last().expect("a width").0;
    let (views, _) = watch(patch, score, end_s);
    for &(at_s, cents) in widths {
        let width = at(&views, at_s).width_cents;
        assert!((width - cents).abs() < 1e-4, "{sentence}: at {at_s} s {width}, not {cents}");
    }
}

/// Nothing swings between two times: no width, no pitch, and the bend never leaves its centre.
fn check_still(sentence: &str, patch: &Patch, score: &Score, from_s: f64, to_s: f64) {
    let (views, sent) = watch(patch, score, to_s);
    let swings = views[(from_s * 1000.0) as usize..].iter().find(|view| view.pitch_cents != 0.0);
    assert_eq!(swings, None, "{sentence}");
    let bent =
        crate::music::bends(&sent).into_iter().find(|&(at_s, bend)| at_s >= from_s && bend != 8192);
    assert_eq!(bent, None, "{sentence}");
}

/// The whole gesture, a second before the first note, so that the style has arrived: the violin's
/// is rolled and 90 cents wide.
fn full() -> Score {
    hand(1.0)
}

fn hand(gesture: f64) -> Score {
    Score::new().gesture(0.0, gesture)
}

/// Sixteen keys that are on no open string of violin or erhu.
const RUN: [u8; 16] = [70, 72, 73, 75, 77, 75, 73, 72, 70, 72, 73, 75, 77, 75, 73, 72];

#[test]
fn a_first_note_grows_from_its_due_age_along_the_smooth_step() {
    // Pace 0.5 at a phrase start: 180 ms · 0.35/0.5 = 126 ms, and 300 ms of growth from there.
    // A quarter of the way sm = 0.15625, half 0.5, three quarters 0.84375, of 90 cents.
    let widths = [
        (1.126, 0.0),
        (1.201, 14.0625),
        (1.276, 45.0),
        (1.351, 75.9375),
        (1.426, 90.0),
        (3.0, 90.0),
    ];
    check("a first note", &even_violin(), &full().on(1.0, 64), &widths);
}

#[test]
fn sixteenths_have_no_vibrato() {
    // 120 a minute: 125 ms a note, and no onset of 180 ms or more comes before 0.2 s but the
    // violin's first (126 ms), which is later than the note too.
    for instrument in ["violin", "erhu", "dizi-d"] {
        let patch = jumping(bare(instrument, "perform"));
        check_still("slurred", &patch, &run(full(), 1.0, 0.125, 0.135, &RUN), 0.0, 3.0);
        check_still("detached", &patch, &run(full(), 1.0, 0.125, 0.1, &RUN), 0.0, 3.0);
    }
}

#[test]
fn detached_eighths_at_matching_pace_have_no_vibrato() {
    // The pace after n notes is 0.25 + 0.25·0.6^n: 0.2515 after ten, where the violin's onset is
    // 0.18·0.35/0.2515 = 0.2505 s, later than a note of 0.25 s.
    let keys: Vec<u8> = RUN.iter().chain(&RUN).copied().collect();
    for instrument in ["violin", "erhu", "dizi-d"] {
        let score = run(full(), 1.0, 0.25, 0.25, &keys);
        check_still(instrument, &jumping(bare(instrument, "perform")), &score, 3.6, 9.0);
    }
}

#[test]
fn slurred_eighths_at_matching_pace_leave_the_bend_at_its_centre() {
    // What the first notes earned falls to sm(0.25) = 0.15625 of itself at each slur: after ten
    // more slurs a hundred-millionth, no step of any bend.
    let keys: Vec<u8> = RUN.iter().chain(&RUN).copied().collect();
    let slurred = run(full(), 1.0, 0.25, 0.26, &keys);
    let (views, sent) = watch(&jumping(even_violin()), &slurred, 9.0);
    let bent =
        crate::music::bends(&sent).into_iter().find(|&(at_s, bend)| at_s > 6.0 && bend != 8192);
    assert_eq!(bent, None);
    assert!(at(&views, 8.9).width_cents < 1e-6);
}

#[test]
fn a_long_note_after_a_fast_run_starts_at_the_due_age_itself() {
    // Onset = sqrt(0.35·T0) at any fast pace. Violin: sqrt(0.063) = 0.25100 s, so at 0.3 s the
    // growth is (0.3 − 0.25100)/0.3 = 0.16334 and sm of it 0.071324, of 90 cents 6.41916.
    let run_and_long = |score| run(score, 1.0, 0.125, 0.1, &RUN[..8]).on(2.0, 70);
    check("violin", &even_violin(), &run_and_long(full()), &[(2.25, 0.0), (2.3, 6.419_16)]);
    // Erhu, half gesture, 56 cents: sqrt(0.077) = 0.27749 s; (0.35 − 0.27749)/0.35 = 0.20718,
    // sm = 0.11098. Started at the next tick, 0.278 s, it would be 6.130.
    let mut erhu = bare("erhu", "perform");
    erhu.vibrato.register_per_semitone = 0.0;
    check("erhu", &erhu, &run_and_long(hand(0.5)), &[(2.277, 0.0), (2.35, 6.214_88)]);
    // Dizi: sqrt(0.35·0.35) = 0.35 s; at 0.5 s (0.15/0.5) = 0.3, sm = 0.216, of 18 cents.
    let dizi = bare("dizi-d", "perform");
    check("dizi", &dizi, &run_and_long(hand(0.5)), &[(2.35, 0.0), (2.5, 3.888)]);
}

#[test]
fn a_vibrato_dies_away_over_80_ms_after_the_off() {
    // No tail, so the off goes out at 2 s; half way sm = 0.5, a quarter of the way 0.84375 left.
    let mut patch = even_violin();
    patch.tail.tail_s = 0.0;
    let widths = [(1.999, 90.0), (2.02, 75.9375), (2.04, 45.0), (2.08, 0.0), (2.5, 0.0)];
    check("release", &patch, &full().note(1.0, 2.0, 64), &widths);
}

#[test]
fn a_short_note_does_not_begin_to_swing_after_its_off() {
    // Released after 0.1 s, while the vibrato was due after 0.126 s; and after 0.2 s, when it had
    // grown for 0.074 s, u = 0.24667, E = 0.15252, 13.7265 cents, of which half is left 40 ms on.
    check_still("0.1 s", &even_violin(), &full().note(1.0, 1.1, 64), 0.0, 2.0);
    let widths = [(1.2, 13.7265), (1.24, 6.863_25), (1.28, 0.0), (2.0, 0.0)];
    check("0.2 s", &even_violin(), &full().note(1.0, 1.2, 64), &widths);
}

#[test]
fn what_still_swings_at_a_fresh_note_fades_in_40_ms() {
    // The off and the next note at one frame: of E = 1 half is left after 20 ms, none after 40,
    // and the new note's own vibrato begins at its own age: pace 0.7, 0.18·0.6 = 0.108 s.
    let mut patch = even_violin();
    patch.tail.tail_s = 0.0;
    let score = full().note(1.0, 2.0, 64).on(2.0, 66);
    let widths = [(2.0, 90.0), (2.02, 45.0), (2.04, 0.0), (2.108, 0.0), (2.258, 45.0)];
    check("fresh over a swing", &patch, &score, &widths);
}

#[test]
fn a_rising_hand_asks_and_is_answered_within_30_ms() {
    // An onset of 2 s comes at its least, 2·0.6 = 1.2 s. The hand rises at 0.6 s. At its own pace
    // the vibrato is 30 ms behind the first tick that rises faster than 1.5 /s, and by then the
    // gesture may not yet be whole; so the envelope is looked at through a style of one width.
    let mut patch = even_violin();
    patch.vibrato.onset_s = 2.0;
    patch.vibrato.style_count = 1;
    patch.vibrato.styles[0] = patch.vibrato.styles[1];
    patch.vibrato.styles[0].width_cents = polso_engine::math::curve::Curve::constant(90.0);
    let patient = Score::new().gesture(0.0, 0.2).on(0.0, 64);
    check("nobody asks", &patch, &patient, &[(1.2, 0.0), (1.35, 45.0)]);

    let (views, _) = watch(&patch, &patient.clone().gesture(0.6, 1.0), 1.2);
    let rises = views.windows(2).position(|pair| pair[1].gesture - pair[0].gesture > 0.0015);
    let asked_ms = rises.expect("the hand rises") + 1;
    assert!((600..=605).contains(&asked_ms), "{asked_ms}");
    for (age_ms, cents) in [(30, 0.0), (105, 14.0625), (180, 45.0), (330, 90.0)] {
        let width = views[asked_ms + age_ms].width_cents;
        assert!((width - cents).abs() < 1e-4, "{age_ms} ms after asking {width}, not {cents}");
    }
    // 1.4 /s is not asking: 0.2 to 0.9 in half a second, in steps of a millisecond.
    let mut slow = patient;
    for step in 1..=500 {
        slow = slow.gesture(0.6 + 0.001 * f64::from(step), 0.2 + 0.0014 * f64::from(step));
    }
    check("a slow rise asks nothing", &patch, &slow, &[(0.9, 0.0), (1.2, 0.0), (1.35, 45.0)]);
}

/// A patient violin under a gesture that rises from 0.2 to 1 as a note is struck `after_s` before its
/// speed passes 0.3 /s: the width once an answer would have grown, at 0.6 s after the rise.
fn width_of_a_rise(after_s: f64) -> f64 {
    let mut patch = even_violin();
    patch.vibrato.onset_s = 2.0;
    let rise = Score::new().gesture(0.0, 0.2).gesture(1.0, 1.0);
    let (views, _) = watch(&patch, &rise, 1.1);
    let passes = views.windows(2).position(|pair| pair[1].gesture - pair[0].gesture > 0.0003);
    let began_s = views[passes.expect("it rises") + 1].time_s;
    assert!((1.0..1.005).contains(&began_s), "{began_s}");
    let (views, _) = watch(&patch, &rise.on(began_s - after_s, 64), 1.7);
    views[1600].width_cents
}

/// A rise that begins before its note or within 80 ms after it is an attack. Of itself this vibrato
/// begins after 1.2 s.
#[test]
fn an_attack_never_asks() {
    for after_s in [-0.5, -0.05, -0.001, 0.0, 0.05, 0.079, 0.080] {
        assert_eq!(width_of_a_rise(after_s), 0.0, "{after_s} s");
    }
    for after_s in [0.081, 0.2, 0.5] {
        let width = width_of_a_rise(after_s);
        assert!((width - 90.0).abs() < 1e-4, "{after_s} s: {width}");
    }
}

/// Eight tongued notes of a dizi, each blown anew from nothing to 0.7 within 50 ms of its note. Of
/// itself vibrato begins 0.35 s · 0.35/pace after a note-on, which at 0.34 s a note is never, and at
/// the phrase's slower start 0.245 s. Each attack once asked, for 16 cents.
#[test]
fn tongued_notes_have_no_vibrato_by_their_attacks() {
    let mut patch = bare("dizi-d", "perform");
    patch.hand.is_breath = true;
    let blow = |score: Score, on_s: f64| {
        let rise =
            (0..=10).map(|step| (on_s - 0.01 + 0.005 * f64::from(step), 0.07 * f64::from(step)));
        let blown =
            rise.fold(score.note(on_s, on_s + 0.32, 79), |score, (at_s, x)| score.gesture(at_s, x));
        blown.gesture(on_s + 0.30, 0.3).gesture(on_s + 0.32, 0.0)
    };
    let score =
        (0..8).fold(Score::new(), |score, place| blow(score, 1.0 + 0.34 * f64::from(place)));
    let (views, _) = watch(&patch, &score, 3.72);
    let widest = views.iter().map(|view| view.width_cents).fold(0.0, f64::max);
    assert!(widest < 2.5, "{widest} cents");
    check_still("the fifth note and on", &patch, &score, 2.34, 3.72);
    // A swell under a held note asks, long before a late vibrato is due.
    patch.vibrato.onset_s = 1.0;
    let held = Score::new().gesture(0.0, 0.5).on(1.0, 79);
    let (views, _) = watch(&patch, &held.clone().gesture(1.30, 1.0), 1.40);
    assert!(at(&views, 1.36).width_cents > 0.0);
    let (views, _) = watch(&patch, &held, 1.40);
    assert_eq!(at(&views, 1.36).width_cents, 0.0);
}

#[test]
fn nobody_asks_at_a_pace_below_a_quarter_second() {
    // After sixteen notes of 0.2 s the pace is 0.2 + 0.3·0.6^15 = 0.2001: the hand rises on the
    // long last one, but its vibrato waits for sqrt(0.063) = 0.251 s.
    let soft = Score::new().gesture(0.0, 0.5);
    let score = run(soft, 0.0, 0.2, 0.2, &RUN).on(3.2, 70).gesture(3.25, 1.0);
    check("after a run", &even_violin(), &score, &[(3.45, 0.0)]);
    // Sixteen notes of 0.3 s: asking 100 ms into the note is answered before its 0.21 s.
    let soft = Score::new().gesture(0.0, 0.5);
    let score = run(soft, 0.0, 0.3, 0.3, &RUN).on(4.8, 70).gesture(4.9, 1.0);
    let (views, _) = watch(&even_violin(), &score, 4.95);
    assert_eq!(at(&views, 4.93).width_cents, 0.0);
    assert!(at(&views, 4.95).width_cents > 0.0);
}

#[test]
fn a_first_value_gliding_in_asks_nothing() {
    // The wheel's first value comes under a note and glides in over 0.15 s, at 6.7 /s and more.
    // Of itself the vibrato
    // starts at 2·0.6 = 1.2 s.
    let mut patch = even_violin();
    patch.vibrato.onset_s = 2.0;
    let score = Score::new().on(0.0, 64).wheel(0.1, 127);
    check("gliding in", &patch, &score, &[(0.2, 0.0), (0.5, 0.0), (1.2, 0.0), (1.35, 45.0)]);
}

#[test]
fn a_trill_has_no_vibrato_however_early_the_onset() {
    // With an onset of 10 ms every note of 0.14 s would swing. From the fourth note on it is a
    // trill: what the third had is gone within 40 ms.
    let mut patch = jumping(even_violin());
    patch.vibrato.onset_s = 0.01;
    let score = run(full(), 1.0, 0.14, 0.15, &[70, 72, 70, 72, 70, 72, 70, 72]);
    check_still("a trill", &patch, &score, 1.47, 2.12);
    let (views, _) = watch(&patch, &score, 2.0);
    assert_eq!(at(&views, 1.4).vibrato_reason, Reason::VibratoSounds, "three notes are none yet");
    assert_eq!(at(&views, 1.5).vibrato_reason, Reason::Trill);
}

#[test]
fn asking_in_a_trill_changes_nothing() {
    // The pace of a trill is below a quarter second, but a slow start leaves it above: 1 s, then
    // three notes of 0.14 s, pace 0.7 → 0.476 → 0.3416 → 0.261. The hand rises under the last.
    let keys = [70, 72, 70];
    let score = Score::new().gesture(0.0, 0.5).note(0.0, 1.01, 72);
    let score = run(score, 1.0, 0.14, 0.15, &keys).on(1.42, 72).gesture(1.43, 1.0);
    let score = score.off(1.6, 72);
    check("a trill that asks", &even_violin(), &score, &[(1.5, 0.0), (1.55, 0.0)]);
}
