//! Who has the line: the newest key, the upper one of a chord, and when that lifts the newest still held.

use std::collections::VecDeque;

use super::midi::TempoMap;
use super::perform::Fed;
use crate::engine::CHORD_S;
use crate::engine::Message;
use crate::engine::math::grain::grain;

/// One strike of a key that is down.
#[derive(Clone, Copy)]
struct Strike {
    /// How many were struck before it.
    number: usize,
    /// Notes of one chord have one number.
    chord: usize,
}

/// The keys that are down. A key may have been struck several times; the oldest strike ends first.
struct HeldKeys {
    strikes: [VecDeque<Strike>; 128],
    count: usize,
}

impl HeldKeys {
    fn new() -> HeldKeys {
        HeldKeys { strikes: [const { VecDeque::new() }; 128], count: 0 }
    }

    fn strike(&mut self, key: u8, chord: usize) {
        self.strikes[usize::from(key)].push_back(Strike { number: self.count, chord });
        self.count += 1;
    }

    /// Ends the oldest strike of a key; false if it is not down.
    fn lift(&mut self, key: u8) -> bool {
        self.strikes[usize::from(key)].pop_front().is_some()
    }

    /// The key that was struck last of those that are down.
    fn newest(&self) -> Option<u8> {
        let newest = |key: &u8| self.strikes[usize::from(*key)].back().map(|last| last.number);
        (0..128).filter(|key| newest(key).is_some()).max_by_key(newest)
    }

    /// The highest key of the newest chord.
    fn highest_of(&self, chord: usize) -> Option<u8> {
        let is_in = |key: &u8| self.strikes[usize::from(*key)].back().map(|last| last.chord);
        (0..128).rev().find(|key| is_in(key) == Some(chord))
    }
}

/// The key that owns the line just before each note-on, by the place of the event in `fed`;
/// after a rest the last owner.
pub(super) fn before_each(fed: &[Fed], clock: &TempoMap) -> Vec<Option<u8>> {
    let mut before = vec![None; fed.len()];
    let mut held = HeldKeys::new();
    let mut owner: Option<u8> = None;
    let mut chord = 0;
    let mut last_s = f64::NEG_INFINITY;
    let mut place = 0;
    for at_tick in fed.chunk_by(|one, other| one.tick == other.tick) {
        // Offs come before ons of the same moment.
        for event in at_tick {
            if let Message::NoteOff { key, .. } = event.message
                && held.lift(key)
                && owner == Some(key)
            {
                owner = held.newest().or(owner);
            }
        }
        for (tag, event) in (place..).zip(at_tick) {
            let Message::NoteOn { key, .. } = event.message else { continue };
            before[tag] = owner;
            let now_s = clock.seconds_at(event.tick);
            chord += usize::from(grain(now_s - last_s) > CHORD_S);
            last_s = now_s;
            held.strike(key, chord);
            owner = held.highest_of(chord);
        }
        place += at_tick.len();
    }
    before
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::offline::midi::{Division, File, Track};

    /// The same from one list of the keys that are down, looked through for every event.
    fn naive(fed: &[Fed], clock: &TempoMap) -> Vec<Option<u8>> {
        let mut before = vec![None; fed.len()];
        let mut held: Vec<(u8, usize)> = Vec::new();
        let (mut owner, mut chord, mut last_s) = (None, 0, f64::NEG_INFINITY);
        let mut order: Vec<usize> = (0..fed.len()).collect();
        order.sort_by_key(|tag| {
            (fed[*tag].tick, matches!(fed[*tag].message, Message::NoteOn { .. }))
        });
        for tag in order {
            match fed[tag].message {
                Message::NoteOff { key, .. } => {
                    let Some(at) = held.iter().position(|it| it.0 == key) else { continue };
                    held.remove(at);
                    if owner == Some(key) {
                        owner = held.last().map(|it| it.0).or(owner);
                    }
                }
                Message::NoteOn { key, .. } => {
                    before[tag] = owner;
                    let now_s = clock.seconds_at(fed[tag].tick);
                    chord += usize::from(grain(now_s - last_s) > CHORD_S);
                    last_s = now_s;
                    held.push((key, chord));
                    owner = held.iter().filter(|it| it.1 == chord).map(|it| it.0).max();
                }
                _ => {}
            }
        }
        before
    }

    proptest! {
        #[test]
        fn the_line_has_the_owner_that_one_list_of_keys_says(
            strikes in prop::collection::vec((0_u64..40, 60_u8..66, any::<bool>()), 0..80),
        ) {
            // 960 ticks a second: most gaps are within a chord, some are not.
            let mut tick = 0;
            let each = strikes.iter().map(|&(gap, key, is_on)| {
                tick += gap.saturating_sub(8);
                let message = match is_on {
                    true => Message::NoteOn { channel: 0, key, velocity: 80 },
                    false => Message::NoteOff { channel: 0, key, velocity: 64 },
                };
                Fed { tick, track: 0, index: 0, message }
            });
            let fed: Vec<Fed> = each.collect();
            let file = File {
                format: 0,
                division: Division::Quarter(480),
                header_rest: Vec::new(),
                tracks: vec![Track::default()],
                foreign: Vec::new(),
                tail: Vec::new(),
            };
            let clock = TempoMap::of(&file);
            prop_assert_eq!(before_each(&fed, &clock), naive(&fed, &clock));
        }
    }
}
