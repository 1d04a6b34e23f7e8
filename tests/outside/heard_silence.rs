//! Out of silence and into it: what a real receiver plays of a crescendo from nothing, and of an attack.

use super::receiver::{Reel, settings, shaped};
use super::sample::figure;
use super::written::take;

/// The clarinet (General MIDI, from 0), whose level is only its number's.
const CLARINET: u8 = 71;
const KEY: u8 = 74;
const ON_MS: u64 = 100;
/// The wheel goes this way in so many milliseconds, once it has begun.
const SWELL_MS: u64 = 4_000;
const BEGIN_MS: u64 = 1_000;
/// The level is read in windows of this length.
const WINDOW_S: f64 = 0.05;
/// At the window in which the sound first enters it is at least this far below the end.
const ENTERS_BELOW_DB: f64 = 40.0;
/// From one window to the next a crescendo of 4 s rises no more than this: the whole of niente's
/// 48 dB goes by in a twelfth of the travel, and a step of the wheel is a hundred and twenty-seventh.
const STEP_DB_MAX: f64 = 14.0;
/// Below this the receiver is silent.
const SILENCE_DB: f64 = -90.0;

/// A wheel from one end to the other, as a controller of seven bits sends it.
fn ramp(from: u8, to: u8, begin_ms: u64, length_ms: u64) -> Vec<(u64, u8)> {
    let count = u64::from(from.abs_diff(to));
    let at = |step: u64| {
        let value = if to > from { from + step as u8 } else { from - step as u8 };
        (begin_ms + step * length_ms / count, value)
    };
    (0..=count).map(at).collect()
}

/// The levels of a shaped take's windows, decibels of full scale.
fn levels(id: &str, wheel: &[(u64, u8)], (off_ms, window_s): (u64, f64)) -> Vec<f64> {
    let mut settings = settings(id, "perform", 0.0);
    settings.patch.vibrato.width_scale = 0.0;
    let mut reel = Reel::new(CLARINET);
    let start_s = reel.add(&shaped(&take(&[(KEY, ON_MS, off_ms)], wheel), &settings));
    let count = ((off_ms - ON_MS) as f64 / 1000.0 / window_s) as usize;
    let ask = |place: usize| {
        let begin_s = start_s + ON_MS as f64 / 1000.0 + place as f64 * window_s;
        format!("level {begin_s} {}", begin_s + window_s)
    };
    let answers = reel.render(&[]).ask(&(0..count).map(ask).collect::<Vec<_>>());
    answers.into_iter().map(|answer| answer[0]).collect()
}

/// The wheel first says that it is there (niente waits for that), and lies down again.
fn after_a_touch(swell: Vec<(u64, u8)>) -> Vec<(u64, u8)> {
    [vec![(0, 40), (20, 0)], swell].concat()
}

#[test]
fn a_crescendo_from_nothing_enters_from_nothing() {
    let mut said = Vec::new();
    for id in ["violin", "flute"] {
        let wheel = after_a_touch(ramp(0, 127, BEGIN_MS, SWELL_MS));
        let levels_db = levels(id, &wheel, (BEGIN_MS + SWELL_MS + 600, WINDOW_S));
        let end_db = levels_db[levels_db.len() - 2];
        let silent = ((BEGIN_MS - ON_MS) as f64 / 1000.0 / WINDOW_S) as usize - 4;
        let before = &levels_db[8..silent];
        assert!(before.iter().all(|db| *db < SILENCE_DB), "{id}: {before:?} before the swell");
        let entry = levels_db.iter().skip(silent).position(|db| *db > SILENCE_DB);
        let entry = silent + entry.expect("it sounds");
        let below_db = end_db - levels_db[entry];
        let steps = levels_db[entry..].windows(2).map(|pair| pair[1] - pair[0]);
        let step_db = steps.clone().fold(0.0, f64::max);
        println!("{id}: enters {below_db:.1} dB below the end, steps up to {step_db:.1} dB");
        assert!(below_db >= ENTERS_BELOW_DB, "{id}: enters {below_db} dB below the end");
        assert!(step_db <= STEP_DB_MAX, "{id}: {step_db} dB at once");
        said.push(format!("{id} {below_db:.0} dB below its end"));
    }
    figure("crescendo", &format!("a crescendo of 4 s from nothing enters: {}", said.join(", ")));
}

#[test]
fn a_line_that_goes_to_nothing_is_gone() {
    let wheel = after_a_touch([ramp(0, 100, 200, 400), ramp(100, 0, BEGIN_MS, SWELL_MS)].concat());
    let levels_db = levels("violin", &wheel, (BEGIN_MS + SWELL_MS + 1_000, WINDOW_S));
    let end = &levels_db[levels_db.len() - 12..];
    assert!(end.iter().all(|db| *db < SILENCE_DB), "{end:?}");
    let falls: Vec<f64> = levels_db[40..].windows(2).map(|pair| pair[0] - pair[1]).collect();
    let last = falls.iter().rposition(|db| *db > 0.5).expect("it falls");
    // What is left at the last moment before silence is little.
    assert!(levels_db[40 + last] < -60.0, "it breaks off at {} dB", levels_db[40 + last]);
}

/// A breath's attack of 50 ms is a beginning, not a swell: from 20 dB below its level to within 1 dB
/// of it. (What goes further than this is held back by the dynamics' own 8 of the range a second.)
#[test]
fn an_attack_out_of_nothing_is_heard_at_once() {
    let wheel = after_a_touch(ramp(0, 64, BEGIN_MS, 50));
    let window_s = 0.005;
    let levels_db = levels("flute", &wheel, (BEGIN_MS + 1_000, window_s));
    let end_db = levels_db[levels_db.len() - 20];
    let begin = ((BEGIN_MS - ON_MS) as f64 / 1000.0 / window_s) as usize;
    let passes = |below_db: f64| {
        levels_db[begin..].iter().position(|db| *db > end_db - below_db).expect("it arrives")
    };
    let attack_ms = (passes(1.0) - passes(20.0)) as f64 * window_s * 1000.0;
    println!("from 20 dB below its level to within 1 dB of it in {attack_ms} ms");
    // 65 ms and a window.
    assert!((5.0..=70.0).contains(&attack_ms), "{attack_ms} ms");
    figure("attack", &format!("a breath's attack of 50 ms is heard in {attack_ms:.0} ms"));
}
