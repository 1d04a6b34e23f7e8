//! Who has the line: the newest key, the upper one of a chord, and when that lifts the newest still held.

use super::midi::TempoMap;
use super::part::{CHORD_S, grain};
use super::perform::Fed;
use crate::engine::Message;

/// A key that is down.
#[derive(Clone, Copy)]
struct Held {
    key: u8,
    /// Notes of one chord have one number.
    chord: usize,
}

/// The key that owns the line just before each note-on, by the place of the event in `fed`;
/// after a rest the last owner.
pub(super) fn before_each(fed: &[Fed], clock: &TempoMap) -> Vec<Option<u8>> {
    let mut before = vec![None; fed.len()];
    let mut held: Vec<Held> = Vec::new();
    let mut owner: Option<u8> = None;
    let mut chord = 0;
    let mut last_s = f64::NEG_INFINITY;
    let mut place = 0;
    while place < fed.len() {
        let tick = fed[place].tick;
        let end = place + fed[place..].iter().take_while(|event| event.tick == tick).count();
        // Offs come before ons of the same moment.
        for event in &fed[place..end] {
            if let Message::NoteOff { key, .. } = event.message {
                lift(&mut held, &mut owner, key);
            }
        }
        for (tag, event) in fed.iter().enumerate().take(end).skip(place) {
            let Message::NoteOn { key, .. } = event.message else { continue };
            before[tag] = owner;
            let now_s = clock.seconds_at(tick);
            chord += usize::from(grain(now_s - last_s) > CHORD_S);
            last_s = now_s;
            held.push(Held { key, chord });
            owner = held.iter().filter(|it| it.chord == chord).map(|it| it.key).max();
        }
        place = end;
    }
    before
}

fn lift(held: &mut Vec<Held>, owner: &mut Option<u8>, key: u8) {
    let Some(place) = held.iter().position(|it| it.key == key) else { return };
    held.remove(place);
    if *owner == Some(key) {
        *owner = held.last().map(|it| it.key).or(*owner);
    }
}
