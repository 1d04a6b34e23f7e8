//! In tune: the heard pitch of a vibrato is its mean, and the mean lies on the note.

use polso::profile::{self, Instrument};

use super::data::instrument_ids;
use super::receiver::{Reel, hz, settings, shaped, traced};
use super::sample::figure;
use super::written::take;

/// The cleanest voice of the receiver (General MIDI, from 0): its own pitch strays by 0.4 cents.
const PROGRAM: u8 = 22;
const ON_MS: u64 = 100;
const OFF_MS: u64 = 3600;
/// The vibrato has settled this long after it began.
const SETTLED_S: f64 = 0.6;
/// A swing has begun where the trace has left the note by this much.
const BEGUN_CENTS: f64 = 1.0;
const WHEELS: [u8; 3] = [84, 110, 127];
/// How far the mean may lie from the note: styles that start above it and lean on it, others
/// (the mean is what is heard: Brown & Vaughn, JASA 100, 1996).
const PRESSED_OFF_CENTS_MAX: f64 = 15.0;
const OTHER_OFF_CENTS_MAX: f64 = 8.0;
/// The receiver knows whole cents, and Praat errs by 0.3.
const READING_CENTS: f64 = 1.0;
/// Praat's range about the note ends a fifth above it, the receiver's voice five octaves up.
const KEY_MAX: u8 = 92;

struct Case {
    id: &'static str,
    key: u8,
    wheel: u8,
    is_pressed: bool,
    /// From when the vibrato has settled on, seconds of the piece, and its rate.
    settled_s: f64,
    rate_hz: f64,
    /// Where its piece begins in the reel.
    start_s: f64,
}

/// A low, a middling and a high key that can be vibrated.
fn keys(instrument: &Instrument) -> Vec<u8> {
    let (low, high) = instrument.range.hard_keys;
    let open = instrument.strings.iter().flat_map(|strings| strings.open_keys.iter());
    let open: Vec<u8> = open.copied().collect();
    let high = high.min(KEY_MAX);
    let stopped: Vec<u8> = (low..=high).filter(|key| !open.contains(key)).collect();
    [1, stopped.len() / 2, stopped.len() - 1].map(|place| stopped[place]).to_vec()
}

fn case(reel: &mut Reel, id: &'static str, key: u8, wheel: u8) -> Option<Case> {
    let settings = settings(id, "perform", 0.0);
    let take = take(&[(key, ON_MS, OFF_MS)], &[(0, wheel)]);
    let rows = traced(&take, &settings);
    let begun = rows.iter().find(|row| row.pitch_cents.abs() >= BEGUN_CENTS)?;
    let settled_s = begun.time_s + SETTLED_S;
    let rate_hz = rows.iter().find(|row| row.time_s >= settled_s)?.rate_hz;
    let is_pressed = settings.styles.iter().any(|name| name == "pressed");
    let start_s = reel.add(&shaped(&take, &settings));
    Some(Case { id, key, wheel, is_pressed, settled_s, rate_hz, start_s })
}

/// The middle pitch of notes that nothing bends.
fn own_tones(keys: &[u8]) -> Vec<f64> {
    let mut reel = Reel::new(PROGRAM);
    let starts: Vec<f64> = keys.iter().map(|key| reel.note(*key, 1.0)).collect();
    let ask = |(key, start_s): (&u8, &f64)| {
        format!("tone {} {} {}", start_s + 0.3, start_s + 0.9, hz(*key))
    };
    let questions: Vec<String> = keys.iter().zip(&starts).map(ask).collect();
    reel.render(&[]).ask(&questions).into_iter().map(|answer| answer[0]).collect()
}

#[test]
fn the_mean_of_a_vibrato_lies_on_the_note() {
    let mut reel = Reel::new(PROGRAM);
    let mut cases = Vec::new();
    for id in instrument_ids() {
        let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
        for key in keys(&instrument) {
            cases.extend(WHEELS.iter().filter_map(|wheel| case(&mut reel, id, key, *wheel)));
        }
    }
    let mut known: Vec<u8> = cases.iter().map(|case| case.key).collect();
    known.sort_unstable();
    known.dedup();
    let tones = own_tones(&known);
    let ask = |case: &Case| {
        // Whole cycles, as many as there is room for.
        let room_s = OFF_MS as f64 / 1000.0 - 0.05 - case.settled_s;
        let length_s = libm::floor(room_s * case.rate_hz) / case.rate_hz;
        let begin_s = case.start_s + case.settled_s;
        let tone_hz = tones[known.binary_search(&case.key).expect("its key")];
        format!("line {begin_s} {} {tone_hz}", begin_s + length_s)
    };
    let questions: Vec<String> = cases.iter().map(ask).collect();
    let answers = reel.render(&[]).ask(&questions);
    let (mut pressed_cents, mut other_cents) = (0.0_f64, 0.0_f64);
    let mut wrong = Vec::new();
    for (case, answer) in cases.iter().zip(&answers) {
        let cents: Vec<f64> = answer.chunks(2).map(|pair| pair[1]).collect();
        let mean_cents = cents.iter().sum::<f64>() / cents.len() as f64;
        let (worst, most) = match case.is_pressed {
            true => (&mut pressed_cents, PRESSED_OFF_CENTS_MAX),
            false => (&mut other_cents, OTHER_OFF_CENTS_MAX),
        };
        *worst = worst.max(mean_cents.abs());
        let Case { id, key, wheel, .. } = case;
        println!("{id}, key {key}, wheel {wheel}: {mean_cents:+.1} cents");
        if mean_cents.abs() > most + READING_CENTS {
            wrong.push(format!("{id}, key {key}, wheel {wheel}: {mean_cents:+.1} cents"));
        }
    }
    assert!(cases.len() >= 150, "{} cases", cases.len());
    assert!(wrong.is_empty(), "{wrong:#?}");
    figure(
        "centre",
        &format!(
            "the mean of {} vibratos through FluidSynth lies within {pressed_cents:.1} cents of the \
             note where a style leans on it from above, {other_cents:.1} elsewhere",
            cases.len()
        ),
    );
}
