//! How long a note waits for its vibrato: the formula against a scan that tries every microsecond.

use crate::music::even_violin;
use crate::rehearsal::{Score, watch};

/// Our model: the first age t at which t ≥ T0 · clamp(0.35/max(I, t), 0.6, 2), in steps of 1 µs.
fn scanned_age_s(onset_s: f64, pace_s: f64) -> f64 {
    let is_due = |t: f64| t >= onset_s * (0.35 / t.max(pace_s)).clamp(0.6, 2.0);
    let ages = (0..2_500_000).map(|step| f64::from(step) * 1e-6);
    ages.into_iter().find(|&t| is_due(t)).expect("due within 2.5 s")
}

/// What the engine does: detached notes at these times, and the last one's vibrato traced
/// back from its envelope to where it began. The envelope u²(3 − 2u) has the inverse
/// u = ½ − sin(asin(1 − 2E)/3).
fn played_age_s(onset_s: f64, ons_s: &[f64]) -> f64 {
    let last_s = ons_s[ons_s.len() - 1];
    let mut patch = even_violin();
    patch.vibrato.onset_s = onset_s;
    patch.vibrato.growth_s = 0.4;
    patch.tail.tail_s = 0.0;
    let mut score = Score::new().gesture(0.0, 1.0);
    for &on_s in ons_s {
        let off_s = if on_s == last_s { on_s + 3.0 } else { on_s + 0.05 };
        score = score.note(on_s, off_s, 64);
    }
    let (views, _) = watch(&patch, &score, last_s + 3.0);
    let view = views.iter().skip((last_s * 1000.0) as usize);
    let view = view.into_iter().find(|view| view.width_cents > 40.0).expect("a vibrato");
    let envelope = view.width_cents / 90.0;
    let u = 0.5 - libm::sin(libm::asin(1.0 - 2.0 * envelope) / 3.0);
    view.time_s - 0.4 * u - last_s
}

/// One row: T0, the times between the three notes, the pace they make (0.5 at the start of the
/// phrase, then 0.4 of the way to each new time), and the age at which the vibrato starts.
fn check(onset_s: f64, iois_s: [f64; 2], pace_s: f64, age_s: f64) {
    let ons_s = [1.0, 1.0 + iois_s[0], 1.0 + iois_s[0] + iois_s[1]];
    let row = format!("T0 {onset_s}, times {iois_s:?}, pace {pace_s}");
    let naive_pace_s = iois_s.iter().fold(0.5, |pace, ioi| pace + 0.4 * (ioi - pace));
    assert!((naive_pace_s - pace_s).abs() < 1e-9, "{row}: the pace is {naive_pace_s}");
    let scanned_s = scanned_age_s(onset_s, pace_s);
    assert!((scanned_s - age_s).abs() < 2e-6, "{row}: scanned {scanned_s}, not {age_s}");
    let played_s = played_age_s(onset_s, &ons_s);
    assert!((played_s - age_s).abs() < 1e-6, "{row}: played {played_s}, not {age_s}");
}

#[test]
fn the_onset_is_the_first_age_that_satisfies_the_formula() {
    // Each silence stays below 0.35 s, so the phrase goes on and the pace follows the hand.
    // Times 0.35 0.35: 0.5 → 0.44 → 0.404. Then T0·0.35/0.404 where that lies below the pace.
    check(0.18, [0.35, 0.35], 0.404, 0.155_940_6);
    // Times 0.1 0.1: 0.5 → 0.34 → 0.244. 0.18·0.35/0.244 = 0.258 is later than the pace, so the
    // age itself counts: sqrt(0.35·0.18).
    check(0.18, [0.1, 0.1], 0.244, 0.250_998_0);
    // Erhu and dizi there: sqrt(0.35·0.22), sqrt(0.35·0.35).
    check(0.22, [0.1, 0.1], 0.244, 0.277_488_7);
    check(0.35, [0.1, 0.1], 0.244, 0.35);
    // Cello and suona at times of 0.25: pace 0.5 → 0.4 → 0.34. 0.18·0.35/0.34 = 0.18529 and
    // 0.25·0.35/0.34 = 0.25735 lie below 0.34.
    check(0.18, [0.25, 0.25], 0.34, 0.185_294_1);
    check(0.25, [0.25, 0.25], 0.34, 0.257_352_9);
    // A short onset at a fast pace is stretched to twice at most: 0.07 → 0.14, pace 0.5 → 0.332
    // → 0.2312 → would be 0.35/0.2312 = 1.51 times, 0.10597.
    check(0.07, [0.08, 0.08], 0.2312, 0.105_968_9);
    // Long onsets: sqrt(0.35·0.9) = 0.56125 is more than 0.6·0.9, but sqrt(0.35·1.2) = 0.648 is
    // less than 0.6·1.2 = 0.72, and no onset gets shorter than that.
    check(0.9, [0.35, 0.35], 0.404, 0.561_248_6);
    check(1.2, [0.35, 0.35], 0.404, 0.72);
    // No onset: at once.
    check(0.0, [0.25, 0.25], 0.34, 0.0);
}

#[test]
fn a_slow_pace_shortens_the_onset_to_six_tenths_at_least() {
    // Slow notes, held one into the next, keep the phrase together: the pace goes from 0.5 over
    // 0.86 to 1.076 with times of 1.4 s, where 0.35/1.076 = 0.325 is held at 0.6.
    let mut patch = even_violin();
    patch.vibrato.growth_s = 0.4;
    patch.vibrato.join_keep = 1.0;
    // The lowest open note earns nothing, so the third note starts from nothing.
    let score = Score::new().gesture(0.0, 1.0).note(1.0, 2.5, 64).note(2.4, 3.9, 55).on(3.8, 64);
    let (views, _) = watch(&patch, &score, 4.5);
    // 0.18·0.6 = 0.108 s, and half way through the growth 45 cents at 0.308 s.
    assert_eq!(views[3908].width_cents, 0.0);
    assert!((views[4108].width_cents - 45.0).abs() < 1e-6, "{}", views[4108].width_cents);
}

#[test]
fn a_fast_pace_doubles_a_short_onset_at_most() {
    // Sixteen notes of 0.13 s: the pace is 0.13 + 0.37·0.6^15 = 0.13017, 0.35/0.13 = 2.69. With
    // an onset of 50 ms that is held at 2: 0.1 s, and half of 0.3 s of growth later 45 cents.
    let mut patch = even_violin();
    patch.vibrato.onset_s = 0.05;
    let score = Score::new().gesture(0.0, 1.0);
    let score = crate::music::run(score, 1.0, 0.13, 0.05, &[64; 16]).on(3.08, 64);
    let (views, _) = watch(&patch, &score, 3.5);
    assert_eq!(views[3180].width_cents, 0.0);
    assert!((views[3330].width_cents - 45.0).abs() < 1e-6, "{}", views[3330].width_cents);
}

#[test]
fn silence_of_a_phrase_boundary_brings_back_the_middling_pace() {
    // A run of 0.1 s a note, then 0.34 s of silence: still the run; 0.36 s: a new phrase.
    let run = |gap_s: f64| {
        let score = Score::new().gesture(0.0, 1.0);
        let score = crate::music::run(score, 1.0, 0.1, 0.1, &[64; 16]).on(2.6 + gap_s, 64);
        watch(&even_violin(), &score, 4.0).0
    };
    let started = |views: &[polso_engine::View], on_s: f64| {
        let after = views.iter().skip((on_s * 1000.0) as usize);
        after.into_iter().find(|view| view.width_cents > 0.0).expect("a vibrato").time_s - on_s
    };
    // Pace 0.1 + 0.4·0.6^15 = 0.10019, then with 0.44: 0.23611; the onset is sqrt(0.063) = 0.251.
    let age_s = started(&run(0.34), 2.94);
    assert!((age_s - 0.251).abs() < 1e-9, "{age_s}");
    // Pace 0.5: 0.18·0.35/0.5 = 0.126, and the first tick that shows it.
    let age_s = started(&run(0.36), 2.96);
    assert!((age_s - 0.127).abs() < 1e-9, "{age_s}");
}

/// A run of a note every 80 ms makes a pace of 0.08 s; twice a wait of 0.06 s is later than that.
#[test]
fn the_longest_wait_is_twice_the_instruments_however_fast_the_run() {
    let ons_s: Vec<f64> = (0..60).map(|place| 1.0 + 0.08 * f64::from(place)).collect();
    let scanned_s = scanned_age_s(0.06, 0.08);
    assert!((scanned_s - 0.12).abs() < 2e-6, "{scanned_s}");
    let played_s = played_age_s(0.06, &ons_s);
    assert!((played_s - 0.12).abs() < 1e-6, "{played_s}");
}
