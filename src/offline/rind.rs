//! What shaping added to one track, told apart from the take even after others have edited it.

use std::collections::{HashMap, HashSet, VecDeque};

use super::ledger::{self, Record};
use super::midi::{Event, Track};
use crate::engine::event::Message;

/// So many added messages may have been removed, or stand out of their order, before a message
/// counts as foreign.
const MISSING_MAX: usize = 16;
/// A note-on has one of so many velocities, from 1.
const VELOCITY_COUNT: usize = 127;

/// How much may have happened to the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trust {
    /// Nothing: what is kept goes back.
    Whole,
    /// Somebody edited it: a note whose shaped form is gone is not put back.
    Edited,
}

/// What came of one track.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Count {
    /// Added messages that were taken out.
    pub removed: usize,
    /// Events of the take that were put back.
    pub restored: usize,
    /// Messages among the added ones that shaping did not add.
    pub foreign: usize,
    /// Added messages that were no longer there.
    pub missing: usize,
    /// Kept notes that were edited since, so that the take's own do not go back.
    pub replaced: usize,
}

/// An added message that is looked for.
struct Wanted {
    check: u16,
    /// Later ones that were found before it.
    passed: usize,
}

/// A note event of the take that went back, or an edited one that stayed.
#[derive(Clone, Copy)]
struct NoteEvent {
    place: usize,
    tick: u64,
    channel: u8,
    key: u8,
    is_on: bool,
}

/// Tick, channel, key and whether it is an on: two events of one note are the same in these.
type Identity = (u64, u8, u8, bool);

impl NoteEvent {
    fn of(event: &Event, place: usize) -> Option<NoteEvent> {
        let (channel, key, is_on) = match event.message()? {
            Message::NoteOn { channel, key, .. } => (channel, key, true),
            Message::NoteOff { channel, key, .. } => (channel, key, false),
            _ => return None,
        };
        Some(NoteEvent { place, tick: event.tick, channel, key, is_on })
    }

    fn identity(&self) -> Identity {
        (self.tick, self.channel, self.key, self.is_on)
    }
}

/// Peels one track.
pub struct Peeler {
    trust: Trust,
    wanted: [VecDeque<Wanted>; 16],
    events: Vec<Event>,
    end_tick: Option<u64>,
    restored: Vec<NoteEvent>,
    /// Notes found foreign.
    foreign: HashSet<Identity>,
    /// Messages that are foreign if another added one of their channel follows in the run.
    doubtful: [Vec<usize>; 16],
    /// Kept note-ons of the present tick, and the keys whose shaped form was found there.
    fresh: Vec<NoteEvent>,
    found: HashSet<(u8, u8)>,
    tick: u64,
    /// Kept notes that do not go back.
    replaced: Vec<NoteEvent>,
    count: Count,
}

impl Peeler {
    /// The take's track, and what was done.
    pub fn peel(track: &Track, trust: Trust) -> (Track, Count) {
        let mut peeler = Peeler {
            trust,
            wanted: Default::default(),
            events: Vec::with_capacity(track.events.len()),
            end_tick: None,
            restored: Vec::new(),
            foreign: HashSet::new(),
            doubtful: Default::default(),
            fresh: Vec::new(),
            found: HashSet::new(),
            tick: 0,
            replaced: Vec::new(),
            count: Count::default(),
        };
        for event in &track.events {
            if event.tick != peeler.tick {
                peeler.end_of_tick();
                peeler.tick = event.tick;
            }
            peeler.take(event);
        }
        peeler.finish(track.end_tick)
    }

    fn take(&mut self, event: &Event) {
        match Record::of(event) {
            Some(Record::Kept(bytes)) => self.restore(Event { tick: event.tick, bytes }),
            Some(Record::Added { channel, checks }) => self.want(usize::from(channel), checks),
            Some(Record::End) => self.end_tick = Some(event.tick),
            None if ledger::marker_text(event).is_some() => {}
            None => match event.message() {
                Some(message) if self.is_added(message, &event.bytes) => {
                    self.count.removed += 1;
                    if let Message::NoteOn { channel, key, .. } = message {
                        self.found.insert((channel, key));
                    }
                }
                Some(message) => {
                    let channel = usize::from(message.channel());
                    if !self.wanted[channel].is_empty() {
                        self.doubtful[channel].push(self.events.len());
                    }
                    self.events.push(event.clone());
                }
                None => self.events.push(event.clone()),
            },
        }
    }

    fn restore(&mut self, event: Event) {
        let note = NoteEvent::of(&event, self.events.len());
        self.restored.extend(note);
        self.fresh.extend(note.filter(|note| note.is_on));
        self.events.push(event);
        self.count.restored += 1;
    }

    /// Another run of added messages. What is left of the last one may only stand out of order.
    fn want(&mut self, channel: usize, checks: Vec<u16>) {
        // A message of the take has ended the last run.
        self.doubtful[channel].clear();
        let wanted = &mut self.wanted[channel];
        let gone = wanted.len().saturating_sub(MISSING_MAX);
        wanted.drain(..gone);
        self.count.missing += gone;
        wanted.extend(checks.into_iter().map(|check| Wanted { check, passed: 0 }));
    }

    /// Whether this is one of the next messages that shaping added.
    fn is_added(&mut self, message: Message, bytes: &[u8]) -> bool {
        let channel = usize::from(message.channel());
        let wanted = &mut self.wanted[channel];
        let check = ledger::check(bytes);
        let near = wanted.iter().take(2 * MISSING_MAX + 1);
        let Some(place) = near.into_iter().position(|wanted| wanted.check == check) else {
            return false;
        };
        wanted.remove(place);
        for earlier in (0..place).rev() {
            wanted[earlier].passed += 1;
            if wanted[earlier].passed > MISSING_MAX {
                wanted.remove(earlier);
                self.count.missing += 1;
            }
        }
        for place in self.doubtful[channel].drain(..) {
            self.count.foreign += 1;
            let note = NoteEvent::of(&self.events[place], place);
            self.foreign.extend(note.map(|note| note.identity()));
        }
        true
    }

    /// Kept notes whose shaped form should have stood here, and is gone.
    fn end_of_tick(&mut self) {
        if self.trust == Trust::Edited {
            let found = &self.found;
            let gone = self.fresh.iter().filter(|note| !found.contains(&(note.channel, note.key)));
            for note in gone {
                let wanted = &mut self.wanted[usize::from(note.channel)];
                let forms = shaped_forms(note);
                let near = wanted.iter().take(MISSING_MAX);
                let Some(place) = near.into_iter().position(|it| forms.contains(&it.check)) else {
                    continue;
                };
                wanted.remove(place);
                self.count.missing += 1;
                self.replaced.push(*note);
            }
        }
        self.fresh.clear();
        self.found.clear();
    }

    fn finish(mut self, last_end_tick: u64) -> (Track, Count) {
        self.end_of_tick();
        self.count.missing += self.wanted.iter().map(VecDeque::len).sum::<usize>();
        // Where somebody edited a note, theirs stands.
        let edited = |note: &&NoteEvent| self.foreign.contains(&note.identity());
        self.replaced.extend(self.restored.iter().filter(edited));
        let offs = self.offs();
        self.replaced.extend(offs);
        let mut gone: Vec<usize> = self.replaced.iter().map(|note| note.place).collect();
        gone.sort_unstable();
        gone.dedup();
        let mut place = 0;
        self.events.retain(|_| {
            place += 1;
            gone.binary_search(&(place - 1)).is_err()
        });
        self.count.replaced = gone.len();
        self.count.restored -= gone.len();
        let last_tick = self.events.last().map_or(0, |event| event.tick);
        let end_tick = self.end_tick.unwrap_or(last_end_tick).max(last_tick);
        (Track { events: self.events, end_tick }, self.count)
    }

    /// The kept offs of kept note-ons that do not go back, where no other on of their key comes
    /// first.
    fn offs(&self) -> Vec<NoteEvent> {
        let mut by_key: HashMap<(u8, u8), Vec<&NoteEvent>> = HashMap::new();
        for note in &self.restored {
            by_key.entry((note.channel, note.key)).or_default().push(note);
        }
        let off_of = |on: &NoteEvent| {
            let own = by_key.get(&(on.channel, on.key))?;
            let next = own.get(own.partition_point(|note| note.place <= on.place))?;
            (on.is_on && !next.is_on).then_some(**next)
        };
        self.replaced.iter().filter_map(off_of).collect()
    }
}

/// The check sums of a kept note-on as it may have been shaped, with any velocity.
fn shaped_forms(note: &NoteEvent) -> [u16; VELOCITY_COUNT] {
    std::array::from_fn(|place| ledger::check(&[0x90 | note.channel, note.key, place as u8 + 1]))
}
