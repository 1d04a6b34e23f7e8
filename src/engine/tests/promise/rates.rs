//! At every sample rate the line is the same, and its moments the same to within one sample.

use polso_engine::Section;
use polso_engine::patch::{Patch, Source};
use polso_engine::{Input, Message, Origin};

use super::improvised::{Manner, improvise};
use super::receivers;
use crate::rehearsal::{Score, Sent, patch_with, perform, perform_on};

/// The grid on which event times are whole frames at all of these rates.
const GRID_PER_S: f64 = 300.0;
const RATES_HZ: [f64; 5] = [44_100.0, 48_000.0, 88_200.0, 96_000.0, 192_000.0];
const LENGTH_S: f64 = 6.0;

fn play(patch: &Patch, rate_hz: f64, score: &Score) -> Vec<Sent> {
    perform(patch, rate_hz, &[512], score, LENGTH_S + 2.0)
}

/// Whole messages in the same order, none further off than one sample of the slower rate.
fn check(name: &str, patch: &Patch, score: &Score) {
    let reference_hz = 192_000.0;
    let reference = play(patch, reference_hz, score);
    for rate_hz in RATES_HZ {
        let sent = play(patch, rate_hz, score);
        for (place, (own, other)) in sent.iter().zip(&reference).enumerate() {
            let what = (own.message, own.origin);
            assert_eq!(what, (other.message, other.origin), "{name}, {rate_hz} Hz, {place}");
            let apart_s = own.frame as f64 / rate_hz - other.frame as f64 / reference_hz;
            assert!(apart_s.abs() <= 1.0 / rate_hz, "{name}, {rate_hz} Hz: {place} by {apart_s} s");
        }
        assert_eq!(sent.len(), reference.len(), "{name}, {rate_hz} Hz");
    }
}

#[test]
fn events_on_a_shared_grid_give_the_same_line_at_every_rate() {
    for (name, patch) in receivers::all() {
        for seed in 0..3 {
            check(name, &patch, &improvise(seed, &receivers::manner(&patch, LENGTH_S, GRID_PER_S)));
        }
    }
}

/// Notes as they were played: on and off of the same tag, in seconds.
fn note_ons(sent: &[Sent], rate_hz: f64) -> Vec<(f64, u8, Origin)> {
    let on = |sent: &Sent| match (sent.message, sent.origin) {
        (Message::NoteOn { key, .. }, Origin::Note(_)) => {
            Some((sent.frame as f64 / rate_hz, key, sent.origin))
        }
        _ => None,
    };
    sent.iter().filter_map(on).collect()
}

/// Times that are no whole frames are rounded to the nearest one before they reach the engine, so
/// what hangs on a tick may move with it: by one tick of 1 ms. Note-ons still do not.
#[test]
fn events_at_any_time_keep_their_note_ons_within_one_sample() {
    let mut note_count = 0;
    for (name, patch) in receivers::all() {
        let manner = Manner { grid_per_s: 0.0, ..receivers::manner(&patch, LENGTH_S, 0.0) };
        for seed in 0..3 {
            let score = improvise(200 + seed, &manner);
            let reference = note_ons(&play(&patch, 192_000.0, &score), 192_000.0);
            note_count += reference.len();
            for rate_hz in RATES_HZ {
                let notes = note_ons(&play(&patch, rate_hz, &score), rate_hz);
                assert_eq!(notes.len(), reference.len(), "{name}, {rate_hz} Hz");
                for (own, other) in notes.iter().zip(&reference) {
                    let apart_s = (own.0 - other.0).abs();
                    assert_eq!((own.1, own.2), (other.1, other.2), "{name}, {rate_hz} Hz");
                    assert!(apart_s <= 1.0 / rate_hz, "{name}, {rate_hz} Hz: {apart_s} s");
                }
            }
        }
    }
    assert!(note_count > 500, "the takes have {note_count} notes");
}

/// A note exactly between two places of the song, whose frame lies a little before or after it.
#[test]
fn notes_between_two_places_of_the_song_have_the_same_chance_at_every_rate() {
    let patch = patch_with("erhu", "perform", Source::Controller(1), 3, 2.0);
    for tempo_bpm in [48.0, 90.0, 131.0, 208.0] {
        let song = Input::Song { beat: 0.0, tempo_bpm, running: true };
        let on_s = (1.0 + 1.0 / 96.0) * 60.0 / tempo_bpm;
        let score = Score::new().at(0.0, song).wheel(0.0, 70).note(on_s, on_s + 2.0, 74);
        let at_rate = |rate_hz: f64| {
            let mut engine = Section::prepare(rate_hz, &patch);
            perform_on(&mut engine, rate_hz, &[512], &score, on_s + 0.9);
            engine.view()
        };
        let reference = at_rate(192_000.0);
        assert!(reference.pitch_cents != 0.0, "it swings");
        for rate_hz in RATES_HZ {
            let apart_cents = at_rate(rate_hz).pitch_cents - reference.pitch_cents;
            assert!(apart_cents.abs() < 1.0, "{tempo_bpm} bpm, {rate_hz} Hz: {apart_cents} cents");
        }
    }
}
