//! Weaves the performance into the take's own track, so that the take can be taken out again.
//!
//! Within one tick the engine's order holds for notes and outputs, and the take's order for
//! everything else. A note of the take that comes out as it went in, at its place, stays itself.
//! Any other note or message of the gesture is kept as a record where it stood.

use super::ledger::{self, RUN_MAX, Record};
use super::midi::{Bytes, Event, Track};
use super::perform::{Fed, Sent};
use crate::engine::event::{Message, Origin};

/// What becomes of an event of the take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// The engine never heard it; it stays.
    Untouched,
    /// The engine let it pass; it stays.
    Passed,
    /// A note: it stays if the engine sends the very same message at the same tick.
    Note,
    /// The engine used it up.
    Consumed,
}

/// A line's part of a track: what the engine heard and what it sends there.
#[derive(Clone, Copy, Debug)]
pub struct Strand<'a> {
    /// What went in, by tags.
    pub fed: &'a [Fed],
    /// What came out, in order of ticks.
    pub sent: &'a [Sent],
}

/// The new track. `fates` has one entry for each of its events; `number` is the track's own,
/// from 0.
pub fn weave(track: &Track, fates: &[Fate], strands: &[Strand], number: usize) -> Track {
    let mut strands = strands.to_vec();
    let mut loom = Loom {
        track,
        fates,
        next: 0,
        bar_end: 0,
        passed: 0,
        offs: Vec::new(),
        woven: Vec::with_capacity(track.events.len() * 2),
        runs: [const { Run { place: None, checks: Vec::new() } }; 16],
    };
    loop {
        let taken = track.events.get(loom.next).map(|event| event.tick);
        let sent = strands.iter().filter_map(|strand| strand.sent.first()).map(|sent| sent.tick);
        let Some(tick) = sent.chain(taken).min() else { break };
        let rest = &track.events[loom.next..];
        loom.begin_tick(rest.iter().take_while(|event| event.tick == tick).count());
        for strand in &mut strands {
            while let Some((sent, later)) = strand.sent.split_first().filter(|it| it.0.tick == tick)
            {
                strand.sent = later;
                loom.send(sent, strand.fed, number);
            }
        }
        loom.take_until(loom.bar_end);
    }
    loom.finish()
}

/// A record of added messages that still grows: its place in the track, if one is open, and its
/// check sums.
struct Run {
    place: Option<usize>,
    checks: Vec<u16>,
}

struct Loom<'a> {
    track: &'a Track,
    fates: &'a [Fate],
    /// The first event of the take that has no place yet.
    next: usize,
    /// The first event of the take after the present tick.
    bar_end: usize,
    /// No event from `next` up to this one has passed.
    passed: usize,
    /// The note-offs of the present tick that stay if they are sent: message and place, in order.
    offs: Vec<([u8; 3], usize)>,
    woven: Vec<Event>,
    runs: [Run; 16],
}

impl Loom<'_> {
    /// Another tick, at which the take has `count` events.
    fn begin_tick(&mut self, count: usize) {
        self.bar_end = self.next + count;
        self.offs.clear();
        for index in (self.next..self.bar_end).filter(|index| self.fates[*index] == Fate::Note) {
            if let Some(off @ Message::NoteOff { .. }) = self.track.events[index].message() {
                self.offs.push((off.bytes().0, index));
            }
        }
        self.offs.sort_unstable(); // every place is another, so there are no ties
    }

    /// Places one message of the engine.
    fn send(&mut self, sent: &Sent, fed: &[Fed], number: usize) {
        let own = match (sent.origin, sent.message) {
            (Origin::Passed(tag), _) => {
                let passed = fed.get(tag as usize).filter(|event| event.track == number);
                if let Some(event) = passed.filter(|event| event.index < self.bar_end) {
                    self.take_until(event.index + 1);
                }
                return;
            }
            (Origin::Note(tag), Message::NoteOn { .. }) => {
                fed.get(tag as usize).map(|event| event.index).filter(|index| {
                    (self.next..self.bar_end).contains(index) && self.is_same(*index, sent.message)
                })
            }
            (Origin::Note(_), off) => self.next_off(off),
            (Origin::Layer(_) | Origin::Owed, _) => None,
        };
        match own.filter(|index| !self.is_passed_before(*index)) {
            Some(index) => {
                self.take_until(index);
                self.stay(index);
                self.next = index + 1;
            }
            None => {
                self.take_untouched();
                self.add(sent.tick, sent.message);
            }
        }
    }

    fn is_same(&self, index: usize, message: Message) -> bool {
        self.fates[index] == Fate::Note && self.track.events[index].message() == Some(message)
    }

    /// The first event of this tick without a place that is this very note-off.
    fn next_off(&self, off: Message) -> Option<usize> {
        let (bytes, next) = (off.bytes().0, self.next);
        let place = self.offs.partition_point(|own| *own < (bytes, next));
        self.offs.get(place).filter(|own| own.0 == bytes).map(|own| own.1)
    }

    /// Whether an event that passes waits before this one. Looked for once over the whole track.
    fn is_passed_before(&mut self, index: usize) -> bool {
        self.passed = self.passed.max(self.next);
        while self.passed < index && self.fates[self.passed] != Fate::Passed {
            self.passed += 1;
        }
        self.passed < index
    }

    /// Names of tracks, tempos and the like at this tick come before what is added.
    fn take_untouched(&mut self) {
        let waiting = &self.fates[self.next..self.bar_end];
        let count = waiting.iter().take_while(|fate| **fate == Fate::Untouched).count();
        self.take_until(self.next + count);
    }

    /// Places the events of the take up to `end`; notes and the gesture become records.
    fn take_until(&mut self, end: usize) {
        while self.next < end {
            let index = self.next;
            match self.fates[index] {
                Fate::Untouched | Fate::Passed => self.stay(index),
                Fate::Note | Fate::Consumed => {
                    let Event { tick, bytes } = &self.track.events[index];
                    self.woven.push(Event { tick: *tick, bytes: Record::kept(bytes) });
                }
            }
            self.next += 1;
        }
    }

    fn stay(&mut self, index: usize) {
        let event = &self.track.events[index];
        if let Some(message) = event.message() {
            self.close_run(message.channel());
        }
        self.woven.push(event.clone());
    }

    fn add(&mut self, tick: u64, message: Message) {
        let channel = message.channel();
        if self.runs[usize::from(channel)].checks.len() == RUN_MAX {
            self.close_run(channel);
        }
        let bytes = Bytes::from(message);
        let run = &mut self.runs[usize::from(channel)];
        if run.place.is_none() {
            run.place = Some(self.woven.len());
            self.woven.push(Event { tick, bytes: bytes.clone() }); // the record, when the run ends
        }
        run.checks.push(ledger::check(&bytes));
        self.woven.push(Event { tick, bytes });
    }

    fn close_run(&mut self, channel: u8) {
        let run = &mut self.runs[usize::from(channel)];
        if let Some(place) = run.place.take() {
            self.woven[place].bytes = Record::added(channel, &run.checks);
            run.checks.clear();
        }
    }

    fn finish(mut self) -> Track {
        (0..16).for_each(|channel| self.close_run(channel));
        let end_tick = self.track.end_tick;
        let last_tick = self.woven.last().map_or(0, |event| event.tick);
        if last_tick > end_tick {
            let place = self.woven.partition_point(|event| event.tick <= end_tick);
            self.woven.insert(place, Event { tick: end_tick, bytes: Record::end() });
        }
        Track { events: self.woven, end_tick: end_tick.max(last_tick) }
    }
}
