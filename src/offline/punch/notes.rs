//! Which notes a punched track has: each belongs to the take in which it begins.
//!
//! An old note that begins before the bars sounds as long as it did; one that begins inside is gone.
//! A new note that begins inside is there, and ends with the bars at the latest. What stands outside
//! stays, also the off of an old note that is gone: it ends nothing.

use std::collections::{HashMap, HashSet, VecDeque};

use crate::engine::Message;
use crate::offline::midi::{Track, TrackEvent};
use crate::offline::take::Region;

/// The places of a track's notes: each on with its off.
fn notes(track: &Track) -> Vec<(usize, Option<usize>)> {
    let mut open: HashMap<(u8, u8), VecDeque<usize>> = HashMap::new();
    let mut notes: Vec<(usize, Option<usize>)> = Vec::new();
    for (place, event) in track.events.iter().enumerate() {
        match event.message() {
            Some(Message::NoteOn { channel, key, .. }) => {
                open.entry((channel, key)).or_default().push_back(notes.len());
                notes.push((place, None));
            }
            Some(Message::NoteOff { channel, key, .. }) => {
                let note = open.get_mut(&(channel, key)).and_then(VecDeque::pop_front);
                note.into_iter().for_each(|note| notes[note].1 = Some(place));
            }
            _ => {}
        }
    }
    notes
}

/// The places of old note events inside the bars that stay: offs of notes that began before them.
pub fn staying(old: &Track, region: Region) -> HashSet<usize> {
    let began_before = |on: usize| old.events[on].tick < region.start;
    let offs = notes(old).into_iter().filter(|(on, _)| began_before(*on));
    offs.filter_map(|(_, off)| off).collect()
}

/// The new note events inside the bars, in order.
pub fn coming(new: &Track, region: Region) -> Vec<TrackEvent> {
    let last_tick = region.end.saturating_sub(1);
    let mut events: Vec<(u64, usize, TrackEvent)> = Vec::new();
    for (on, off) in notes(new) {
        let event = &new.events[on];
        if !region.holds(event.tick) {
            continue;
        }
        events.push((event.tick, on, event.clone()));
        let end_tick = off.map_or(new.end_tick, |off| new.events[off].tick);
        let bytes = match (off, event.message()) {
            (Some(off), _) => new.events[off].bytes.clone(),
            (None, Some(Message::NoteOn { channel, key, .. })) => {
                Message::NoteOff { channel, key, velocity: 64 }.into()
            }
            (None, _) => continue,
        };
        let tick = end_tick.min(last_tick);
        events.push((tick, off.unwrap_or(usize::MAX), TrackEvent { tick, bytes }));
    }
    events.sort_by_key(|(tick, place, _)| (*tick, *place));
    events.into_iter().map(|(.., event)| event).collect()
}
