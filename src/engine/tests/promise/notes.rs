//! Every key that goes down at the receiver comes up again, and never goes down twice.

use std::collections::{BTreeMap, BTreeSet};

use polso_engine::Section;
use polso_engine::patch::{Patch, TransitionWay};
use polso_engine::{Input, Message, Origin, Timed};

use super::improvised::{Die, Manner, improvise};
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape};

/// The keys that sound after all of this; on and off must alternate for each.
pub fn sounding(what: &str, sent: &[Sent]) -> Vec<(u8, u8)> {
    let mut sounding: Vec<(u8, u8)> = Vec::new();
    for (place, sent) in sent.iter().enumerate() {
        match sent.message {
            Message::NoteOn { channel, key, .. } => {
                let is_down = sounding.contains(&(channel, key));
                assert!(!is_down, "{what}: message {place}: {key} goes down twice");
                sounding.push((channel, key));
            }
            Message::NoteOff { channel, key, .. } => {
                let down = sounding.iter().position(|own| *own == (channel, key));
                let down = down.unwrap_or_else(|| panic!("{what}: message {place}: {key} is up"));
                sounding.remove(down);
            }
            _ => {}
        }
    }
    sounding
}

/// Plays a score in blocks of random lengths; between blocks, now and then, `between` happens.
fn play(
    engine: &mut Section,
    score: &Score,
    end_s: f64,
    die: &mut Die,
    mut between: impl FnMut(&mut Die, &mut Section, &mut Tape),
) -> Tape {
    let mut tape = Tape::default();
    let events = score.timed(RATE_HZ);
    let mut rest = &events[..];
    while tape.block_frame < (end_s * RATE_HZ) as u64 {
        let length = 1 + die.below(12_000);
        let end = tape.block_frame + length;
        let (now, later) = rest.split_at(rest.partition_point(|(frame, _)| *frame < end));
        rest = later;
        let place = |(frame, timed): &(u64, Timed)| Timed {
            frame: (frame - tape.block_frame) as u32,
            ..*timed
        };
        let input: Vec<Timed> = now.iter().map(place).collect();
        engine.process(length as u32, &input, &mut tape);
        tape.block_frame = end;
        between(die, engine, &mut tape);
    }
    tape
}

#[test]
fn on_and_off_alternate_through_random_takes_resets_and_loads() {
    let patches = receivers::all();
    let mut note_count = 0;
    for seed in 0..2_400 {
        let mut die = Die(seed);
        let (name, patch) = &patches[seed as usize % patches.len()];
        let what = format!("{name}, seed {seed}");
        let score = improvise(seed, &receivers::manner(patch, 3.0, 0.0));
        let mut engine = Section::prepare(RATE_HZ, patch);
        let between = |die: &mut Die, engine: &mut Section, tape: &mut Tape| match die.below(16) {
            0 => engine.reset(),
            1 => engine.load(&die.pick(&patches).1),
            2 => {
                engine.finish(tape);
                assert_eq!(sounding(&what, &tape.sent), [], "{what}: after the end");
            }
            3 => {
                engine.reset();
                engine.process(0, &[], tape);
                assert_eq!(sounding(&what, &tape.sent), [], "{what}: after a reset");
            }
            _ => {}
        };
        let mut tape = play(&mut engine, &score, 4.0, &mut die, between);
        engine.finish(&mut tape);
        assert_eq!(sounding(&what, &tape.sent), [], "{what}: at the end");
        note_count += tape.sent.len();
    }
    assert!(note_count > 100_000, "{note_count} messages are not many");
}

/// Of each note by its tag: where it was struck and released as played (first in, first out), or
/// where the song that began it stopped.
fn played(score: &Score) -> BTreeMap<u32, (u64, u64, u8, u8)> {
    let mut notes = BTreeMap::new();
    let mut down: Vec<(u8, u8, u32)> = Vec::new();
    let mut is_running = false;
    let mut of_the_song = BTreeSet::new();
    for (frame, timed) in score.timed(RATE_HZ) {
        match timed.input {
            Input::Midi(Message::NoteOn { channel, key, .. }) => {
                notes.insert(timed.tag, (frame, u64::MAX, channel, key));
                down.push((channel, key, timed.tag));
                if is_running {
                    of_the_song.insert(timed.tag);
                }
            }
            Input::Song { running, .. } => {
                if is_running && !running {
                    down.retain(|(_, _, tag)| {
                        let stays = !of_the_song.contains(tag);
                        if !stays {
                            notes.get_mut(tag).expect("a note").1 = frame;
                        }
                        stays
                    });
                }
                is_running = running;
            }
            Input::Midi(Message::NoteOff { channel, key, .. }) => {
                let first = down.iter().position(|own| (own.0, own.1) == (channel, key));
                if let Some(first) = first {
                    notes.get_mut(&down.remove(first).2).expect("a note").1 = frame;
                }
            }
            _ => {}
        }
    }
    notes
}

/// Each note-on at its own frame; no note shorter than played unless its key is struck again, or
/// another note joins it by bend.
fn check_notes(what: &str, patch: &Patch, score: &Score, end_s: f64) {
    let mut engine = Section::prepare(RATE_HZ, patch);
    let sent = play(&mut engine, score, end_s, &mut Die(1), |_, _, _| {}).sent;
    let of = |tag: u32| sent.iter().filter(move |sent| sent.origin == Origin::Note(tag));
    let strikes = |channel: u8, key: u8, frame: u64| {
        let elsewhere = patch.voices.has_channels;
        let is_strike = |sent: &&Sent| matches!(sent.message, Message::NoteOn { channel: c, key: k, .. } if k == key && (c == channel || elsewhere));
        sent.iter().filter(is_strike).any(|sent| sent.frame == frame)
    };
    let is_bend = patch.target.transition.way == TransitionWay::Bend;
    let joins_at = |frame: u64| {
        let is_on = |sent: &&Sent| {
            matches!((sent.message, sent.origin), (Message::NoteOn { .. }, Origin::Note(_)))
        };
        sent.iter().filter(is_on).any(|sent| sent.frame == frame)
    };
    for (tag, (on_frame, off_frame, channel, key)) in played(score) {
        let own: Vec<&Sent> = of(tag).collect();
        let place = own.iter().position(|s| matches!(s.message, Message::NoteOn { .. }));
        let on = own[place.unwrap_or_else(|| panic!("{what}: note {tag} is missing"))];
        assert_eq!(on.frame, on_frame, "{what}: note {tag} comes late");
        if let Some(off) = own.get(place.unwrap_or(0) + 1) {
            let is_left = is_bend && joins_at(off.frame);
            let is_whole = off.frame >= off_frame || strikes(channel, key, off.frame) || is_left;
            assert!(is_whole, "{what}: note {tag} of key {key} ends at {} early", off.frame);
        } else if off_frame < u64::MAX {
            panic!("{what}: note {tag} never ends");
        }
    }
}

#[test]
fn every_note_on_comes_at_its_own_frame_and_no_note_is_cut() {
    for (name, patch) in receivers::all() {
        for seed in 0..40 {
            let tame = Manner { is_wild: false, ..receivers::manner(&patch, 4.0, 0.0) };
            let what = format!("{name}, seed {seed}");
            check_notes(&what, &patch, &improvise(seed, &tame), 8.0);
        }
    }
}
