//! Joins by bend as a receiver sounds them: how long the pitch is on its way, beside a tone that goes the same way.

use super::heard_slides::rests;
use super::receiver::{Reel, Sound, hz, settings, shaped};
use super::sample::figure;
use super::written::take;

/// A clarinet (General MIDI, from 0): loud at once, without a vibrato of its own.
const PROGRAM: u8 = 71;
pub const JOIN_MS: u64 = 1000;
/// Whole tones and fifths on the violin's upper strings, both ways.
pub const KEYS: [(u8, u8); 4] = [(81, 83), (83, 81), (81, 88), (88, 81)];
/// A mode, the wheel that asks for it, its heard least and most, and its stated times of a whole
/// tone and a fifth (DESIGN 4.5), milliseconds.
pub type ModeCase = (&'static str, u8, (f64, f64), [f64; 2]);
pub const MODES: [ModeCase; 4] = [
    ("quick", 12, (0.0, 14.0), [6.0, 6.0]),
    ("joined", 62, (14.0, 33.0), [16.0, 30.0]),
    ("slow", 95, (24.0, 103.0), [28.0, 98.0]),
    ("slide", 127, (75.0, 160.0), [80.0, 154.0]),
];
/// How far what is heard lies from what the same reader says of a tone that goes the same way.
const OFF_MS_MAX: f64 = 9.0;
/// A harmonica: the steadiest voice, within 0.4 cents of its own pitch.
const STEADY_PROGRAM: u8 = 22;

/// From a tenth to nine tenths of the way, milliseconds; the join is at 1 s.
pub fn tenths_ms(answer: &[f64], start_s: f64) -> f64 {
    let line: Vec<(f64, f64)> = answer.chunks(2).map(|pair| (pair[0] - start_s, pair[1])).collect();
    let (from, to) = (rests(&line, 0.85, 0.98), rests(&line, 1.5, 1.7));
    let share = |cents: f64| (cents - from) / (to - from);
    // For the last time: what is left of the old note is bent away with the channel, and for some
    // milliseconds the reader hears now the one and now the other.
    let passes_s = |wanted: f64| {
        let place = line.windows(2).rposition(|pair| {
            pair[0].0 > 0.9 && share(pair[0].1) < wanted && share(pair[1].1) >= wanted
        });
        let pair = &line[place.expect("it arrives")..];
        let (before, after) = (share(pair[0].1), share(pair[1].1));
        pair[0].0 + (pair[1].0 - pair[0].0) * (wanted - before) / (after - before)
    };
    1000.0 * (passes_s(0.9) - passes_s(0.1))
}

pub fn question(keys: (u8, u8), start_s: f64) -> String {
    let (low, high) = (keys.0.min(keys.1), keys.0.max(keys.1));
    format!("leap {} {} {} {}", start_s + 0.8, start_s + 1.75, hz(low), hz(high))
}

/// A tone that goes from key to key along the logistic of this time, one after the other.
pub fn ideal(cases: &[((u8, u8), f64)]) -> Vec<f64> {
    let mut turn = 0.0;
    let sound = Sound::made(2.0 * cases.len() as f64, |second| {
        let ((from, to), time_ms) = cases[(second / 2.0) as usize];
        let rise =
            libm::exp(-4.2227 / (time_ms / 1000.0) * (second % 2.0 - JOIN_MS as f64 / 1000.0));
        let share = 1.0 / (1.0 + 99.0 * rise);
        let cents = (f64::from(to) - f64::from(from)) * ((share - 0.01) / 0.98).clamp(0.0, 1.0);
        turn += hz(from) * libm::exp2(cents / 12.0) / 44_100.0;
        0.3 * libm::sin(std::f64::consts::TAU * turn)
    });
    let ask = |(place, (keys, _)): (usize, &((u8, u8), f64))| question(*keys, 2.0 * place as f64);
    let answers = sound.ask(&cases.iter().enumerate().map(ask).collect::<Vec<_>>());
    let each = answers.iter().enumerate();
    each.map(|(place, answer)| tenths_ms(answer, 2.0 * place as f64)).collect()
}

#[test]
fn joins_by_bend_are_heard_in_their_times() {
    let mut reel = Reel::new(PROGRAM);
    let mut starts = Vec::new();
    let mut stated = Vec::new();
    for (_, wheel, _, times) in MODES {
        for keys in KEYS {
            let mut settings = settings("violin", "perform-12", 0.0);
            settings.patch.vibrato.width_scale = 0.0;
            let notes = [(keys.0, 0, JOIN_MS + 5), (keys.1, JOIN_MS, 2000)];
            let take = take(&notes, &[(0, wheel)]);
            starts.push(reel.add(&shaped(&take, &settings)));
            stated.push((keys, times[usize::from(keys.0.abs_diff(keys.1) > 2)]));
        }
    }
    let ask = |(start_s, (keys, _)): (&f64, &((u8, u8), f64))| question(*keys, *start_s);
    let questions: Vec<String> = starts.iter().zip(&stated).map(ask).collect();
    let answers = reel.render(&[]).ask(&questions);
    let ideal = ideal(&stated);
    let mut said = Vec::new();
    let heard: Vec<f64> =
        answers.iter().zip(&starts).map(|(answer, start_s)| tenths_ms(answer, *start_s)).collect();
    for (place, (name, _, (least, most), _)) in MODES.into_iter().enumerate() {
        for own in KEYS.len() * place..KEYS.len() * (place + 1) {
            let ((from, to), stated_ms) = stated[own];
            let (ms, ideal_ms) = (heard[own], ideal[own]);
            println!(
                "{name} {from} to {to}: {ms:.1} ms, a tone of {stated_ms} is heard as {ideal_ms:.1}"
            );
            assert!((least..=most).contains(&ms), "{name} {from} to {to}: {ms} ms");
            assert!((ms - ideal_ms).abs() <= OFF_MS_MAX, "{name} {from} to {to}: {ms}, {ideal_ms}");
        }
        let [tone, fifth] = [0, 2].map(|own| heard[KEYS.len() * place + own]);
        said.push(format!("{name} {tone:.0} and {fifth:.0}"));
    }
    for interval in 0..KEYS.len() {
        let modes: Vec<f64> =
            (0..MODES.len()).map(|it| heard[KEYS.len() * it + interval]).collect();
        assert!(modes.is_sorted_by(|faster, slower| faster + 7.0 < *slower), "{modes:?}");
    }
    figure("joins", &format!("a whole tone and a fifth in ms, heard: {}", said.join(", ")));
}

/// Before the join and after it the pitch is each key's own, and no second pitch stays.
#[test]
fn a_join_leaves_one_key_for_the_other() {
    let (from, to) = (81, 85);
    let mut reel = Reel::new(STEADY_PROGRAM);
    let mut questions = Vec::new();
    for (_, wheel, ..) in MODES {
        let mut settings = settings("violin", "perform-12", 0.0);
        settings.patch.vibrato.width_scale = 0.0;
        let notes = [(from, 0, JOIN_MS + 5), (to, JOIN_MS, 2000)];
        let start_s = reel.add(&shaped(&take(&notes, &[(0, wheel)]), &settings));
        for (key, begin_s, end_s) in [(from, 0.7, 0.98), (to, 1.4, 1.9)] {
            questions.push(format!("tone {} {} {}", start_s + begin_s, start_s + end_s, hz(key)));
        }
    }
    for key in [from, to] {
        let start_s = reel.note(key, 1.0);
        questions.push(format!("tone {} {} {}", start_s + 0.3, start_s + 0.9, hz(key)));
    }
    let answers = reel.render(&[]).ask(&questions);
    let (joined, own) = answers.split_at(2 * MODES.len());
    for ((name, ..), heard) in MODES.iter().zip(joined.chunks(2)) {
        for (heard, own) in heard.iter().zip(own) {
            let off_cents = 1200.0 * libm::log2(heard[0] / own[0]);
            assert!(off_cents.abs() <= 1.0, "{name}: {off_cents} cents");
        }
    }
}
