//! Who has the line: the newest key, the upper one of a chord, and when that lifts the newest still held.

use std::collections::VecDeque;

use super::midi::TempoMap;
use super::perform::Fed;
use crate::engine::patch::NotesPatch;
use crate::engine::{Message, NoteStart, Pace, PassedNotes};

/// One strike of a key that is down.
#[derive(Clone, Copy)]
struct Strike {
    /// How many were struck so far, this one too.
    number: u64,
    on_s: f64,
}

/// The keys that are down. A key may have been struck several times; the oldest strike ends first.
struct HeldKeys {
    strikes: [VecDeque<Strike>; 128],
    count: u64,
}

impl HeldKeys {
    fn new() -> HeldKeys {
        HeldKeys { strikes: [const { VecDeque::new() }; 128], count: 0 }
    }

    fn strike(&mut self, key: u8, on_s: f64) {
        self.count += 1;
        self.strikes[usize::from(key)].push_back(Strike { number: self.count, on_s });
    }

    /// Ends the oldest strike of a key, if it is down.
    fn lift(&mut self, key: u8) -> Option<Strike> {
        self.strikes[usize::from(key)].pop_front()
    }

    /// The last strike of a key that is down.
    fn last_of(&self, key: u8) -> Option<&Strike> {
        self.strikes[usize::from(key)].back()
    }

    /// The key that was struck last of those that are down, and its strike.
    fn newest(&self) -> Option<(u8, Strike)> {
        let down = (0..128).filter_map(|key| Some((key, *self.last_of(key)?)));
        down.max_by_key(|(_, strike)| strike.number)
    }

    /// The highest key of the chord that was struck last.
    fn highest_of(&self, pace: &Pace) -> Option<u8> {
        let is_in =
            |key: &u8| self.last_of(*key).is_some_and(|it| pace.has_in_chord(*key, it.on_s));
        (0..128).rev().find(is_in)
    }
}

/// How a note-on stands to what was played before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Arrival {
    /// The key that owns the line just before it; after a rest the last owner.
    pub owner_before: Option<u8>,
    /// It belongs to the chord before it.
    pub is_chord: bool,
    /// The key before it was a grace.
    pub is_grace: bool,
}

/// Follows who has the line, by the engine's own rules.
struct Owners {
    held: HeldKeys,
    pace: Pace,
    passed: PassedNotes,
    owner: Option<u8>,
    is_trill: bool,
}

impl Owners {
    fn lift(&mut self, key: u8, now_s: f64) {
        let Some(strike) = self.held.lift(key) else { return };
        let Strike { number, on_s } = strike;
        if self.passed.makes_drone(number, on_s, now_s) {
            return;
        }
        if !self.is_trill {
            self.passed.pass(number);
        }
        if self.owner != Some(key) {
            return;
        }
        let is_of_line =
            |(_, it): &(u8, Strike)| !self.passed.makes_drone(it.number, it.on_s, now_s);
        if let Some((newest, _)) = self.held.newest().filter(is_of_line) {
            self.owner = Some(newest);
            self.is_trill = self.pace.own(now_s, newest);
        }
    }

    fn strike(&mut self, key: u8, now_s: f64, voice_count: u8) -> Arrival {
        let owner_before = self.owner;
        let newest = self.held.newest().map_or(0, |(_, strike)| strike.number);
        let is_last_down = newest == self.held.count && newest > 0;
        // The silence before it counts for the pace, not for who has the line.
        let start = NoteStart { now_s, key, silence_s: 0.0, voice_count, is_last_down };
        let beat = self.pace.strike(&start);
        self.held.strike(key, now_s);
        self.owner = if beat.is_chord { self.held.highest_of(&self.pace) } else { Some(key) };
        if !beat.is_chord && !beat.is_grace {
            self.is_trill = beat.is_trill;
        }
        Arrival { owner_before, is_chord: beat.is_chord, is_grace: beat.is_grace }
    }
}

/// How each note-on stands to what was played before it, by the place of the event in `fed`.
/// `notes` are those of the instrument; another player's keys have no arrival.
pub(super) fn arrivals(fed: &[Fed], clock: &TempoMap, notes: &NotesPatch) -> Vec<Arrival> {
    let mut arrivals = vec![Arrival::default(); fed.len()];
    let mut owners = Owners {
        held: HeldKeys::new(),
        pace: Pace::START,
        passed: PassedNotes::NONE,
        owner: None,
        is_trill: false,
    };
    let mut place = 0;
    for at_tick in fed.chunk_by(|one, other| one.tick == other.tick) {
        let now_s = clock.seconds_at(at_tick[0].tick);
        // Offs come before ons of the same moment.
        for event in at_tick {
            if let Message::NoteOff { key, .. } = event.message
                && !notes.is_foreign(key)
            {
                owners.lift(key, now_s);
            }
        }
        for (tag, event) in (place..).zip(at_tick) {
            if let Message::NoteOn { key, .. } = event.message
                && !notes.is_foreign(key)
            {
                arrivals[tag] = owners.strike(key, now_s, notes.voice_count);
            }
        }
        place += at_tick.len();
    }
    arrivals
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::offline::midi::{Division, File, Track};

    const NOTES: NotesPatch = NotesPatch { lowest_key: 60, highest_key: 72, voice_count: 2 };

    /// A key that is down: which, since when, how many have come and gone over it, and whether it
    /// was struck last.
    struct Down {
        key: u8,
        on_s: f64,
        over: u32,
        is_last: bool,
    }

    /// The owner before each note-on, from one list of the keys that are down, looked through for
    /// every event.
    fn naive(fed: &[Fed], clock: &TempoMap) -> Vec<Option<u8>> {
        let mut before = vec![None; fed.len()];
        let mut held: Vec<Down> = Vec::new();
        let (mut owner, mut last_s, mut last_key) = (None, f64::NEG_INFINITY, 0);
        let (mut owned, mut in_trill) = (Vec::new(), false);
        let mut struck: Vec<u8> = Vec::new();
        let mut chord: Vec<u8> = Vec::new();
        let mut order: Vec<usize> = (0..fed.len()).collect();
        order.sort_by_key(|tag| {
            (fed[*tag].tick, matches!(fed[*tag].message, Message::NoteOn { .. }))
        });
        let is_drone =
            |it: &Down, now_s: f64| it.over >= 2 && ((now_s - it.on_s) * 1e4).round() >= 10_000.0;
        for tag in order {
            let now_s = clock.seconds_at(fed[tag].tick);
            match fed[tag].message {
                Message::NoteOff { key, .. } => {
                    let Some(at) = held.iter().position(|it| it.key == key) else { continue };
                    let lifted = held.remove(at);
                    if is_drone(&lifted, now_s) {
                        continue;
                    }
                    let older = held[..at].iter_mut().filter(|_| !in_trill);
                    older.for_each(|it| it.over += 1);
                    let newest = held.last().filter(|it| !is_drone(it, now_s));
                    if let Some(newest) = newest.filter(|_| owner == Some(key)) {
                        owner = Some(newest.key);
                        owned.push((newest.key, now_s));
                        in_trill = is_trill(&owned);
                    }
                }
                Message::NoteOn { key, .. } => {
                    before[tag] = owner;
                    let is_soon = ((now_s - last_s) * 1e4).round() <= 350.0;
                    let is_far = struck.iter().all(|other| other.abs_diff(key) > 2);
                    let is_last_down = held.last().is_some_and(|it| it.is_last);
                    let is_chord = is_soon && is_far && chord.len() < 2;
                    if is_soon && !is_chord && is_last_down {
                        chord.retain(|other| *other != last_key);
                    } else if !is_chord {
                        (struck, chord) = (Vec::new(), Vec::new());
                        owned.push((key, now_s));
                        in_trill = is_trill(&owned);
                    }
                    struck.push(key);
                    chord.retain(|other| *other != key);
                    chord.push(key);
                    (last_s, last_key) = (now_s, key);
                    held.iter_mut().for_each(|it| it.is_last = false);
                    held.push(Down { key, on_s: now_s, over: 0, is_last: true });
                    let sounds = |key: &&u8| held.iter().any(|it| it.key == **key);
                    owner = match is_chord {
                        true => chord.iter().filter(sounds).max().copied(),
                        false => Some(key),
                    };
                }
                _ => {}
            }
        }
        before
    }

    /// A, B, A, B, each less than 0.15 s after the last.
    fn is_trill(owned: &[(u8, f64)]) -> bool {
        let [.., a, b, c, d] = owned else { return false };
        let is_fast = [d.1 - c.1, c.1 - b.1, b.1 - a.1].iter().all(|s| (s * 1e4).round() < 1500.0);
        a.0 == c.0 && b.0 == d.0 && a.0 != b.0 && is_fast
    }

    proptest! {
        #[test]
        fn the_line_has_the_owner_that_one_list_of_keys_says(
            strikes in prop::collection::vec((0_u64..90, 60_u8..68, any::<bool>()), 0..120),
        ) {
            // 960 ticks a second: half of the gaps are within a chord.
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
            let owners = arrivals(&fed, &clock, &NOTES).into_iter().map(|it| it.owner_before);
            prop_assert_eq!(owners.collect::<Vec<_>>(), naive(&fed, &clock));
        }
    }
}
