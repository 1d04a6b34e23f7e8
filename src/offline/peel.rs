//! Takes out what shaping added and puts back what it consumed: the way back to the take.

use std::collections::VecDeque;

use super::Error;
use super::ledger::{self, Record};
use super::midi::{Event, File, Track};
use crate::engine::event::Message;

/// How many added messages may be missing in a row before a message counts as foreign.
const MISSING_MAX: usize = 16;

/// The take, and what could not be told apart any more.
#[derive(Clone, Debug, PartialEq)]
pub struct Peeled {
    /// The take.
    pub file: File,
    /// Messages taken out.
    pub removed_count: usize,
    /// Events put back.
    pub restored_count: usize,
    /// What was edited since and how it was dealt with, one sentence each; empty if the take is
    /// exactly as it was.
    pub leftovers: Vec<String>,
}

/// Whether the file was shaped: the text of its marker, or a plain word where only records are
/// left.
pub fn shaped_mark(file: &File) -> Option<String> {
    let events = || file.tracks.iter().flat_map(|track| &track.events);
    let marker = events().find_map(|event| ledger::marker_text(event).map(str::to_owned));
    marker.or_else(|| {
        events().any(|event| Record::of(event).is_some()).then(|| "its marker is gone".to_owned())
    })
}

/// The take inside a shaped file.
///
/// # Errors
/// [`Error::NotShaped`].
pub fn peel(mut file: File) -> Result<Peeled, Error> {
    let marker = shaped_mark(&file).ok_or(Error::NotShaped)?;
    let mut peeled = Peeled {
        file: File { tracks: Vec::new(), ..file.clone() },
        removed_count: 0,
        restored_count: 0,
        leftovers: Vec::new(),
    };
    for (number, track) in std::mem::take(&mut file.tracks).into_iter().enumerate() {
        let track = Peeler::default().peel(track, number + 1, &mut peeled);
        peeled.file.tracks.push(track);
    }
    coarsen(&mut peeled, ledger::marker_factor(&marker));
    Ok(peeled)
}

/// Gives the file its own ticks again.
fn coarsen(peeled: &mut Peeled, factor: Option<u64>) {
    let Some(factor) = factor.filter(|factor| *factor > 0) else {
        let lost = "the marker is gone, so the ticks stay as fine as they are";
        peeled.leftovers.push(lost.into());
        return;
    };
    let file = &mut peeled.file;
    let fits = |tick: u64| tick.is_multiple_of(factor);
    let is_even = file
        .tracks
        .iter()
        .all(|track| fits(track.end_tick) && track.events.iter().all(|event| fits(event.tick)));
    match file.division.coarser(factor).filter(|_| is_even) {
        Some(division) => {
            file.division = division;
            for track in &mut file.tracks {
                track.end_tick /= factor;
                track.events.iter_mut().for_each(|event| event.tick /= factor);
            }
        }
        None => {
            let edited = "events were placed between the take's own ticks, so the ticks stay fine";
            peeled.leftovers.push(edited.into());
        }
    }
}

#[derive(Default)]
struct Peeler {
    /// What is still to be taken out, by channel.
    pending: [VecDeque<u16>; 16],
    events: Vec<Event>,
    /// Notes put back or found foreign at the present tick: channel and key, whether it is an
    /// on, whether it is foreign, and their places.
    foreign_count: usize,
    missing_count: usize,
    end_tick: Option<u64>,
}

impl Peeler {
    fn peel(mut self, track: Track, number: usize, peeled: &mut Peeled) -> Track {
        let mut restored: Vec<usize> = Vec::new();
        let mut foreign: Vec<usize> = Vec::new();
        for event in track.events {
            match Record::of(&event) {
                Some(Record::Kept(bytes)) => {
                    restored.push(self.events.len());
                    self.events.push(Event { tick: event.tick, bytes });
                }
                Some(Record::Added { channel, checks }) => {
                    let pending = &mut self.pending[usize::from(channel)];
                    self.missing_count += pending.len();
                    *pending = checks.into();
                }
                Some(Record::End) => self.end_tick = Some(event.tick),
                None if ledger::marker_text(&event).is_some() => {}
                None => match event.message() {
                    Some(message) if self.is_added(message, &event.bytes) => {
                        peeled.removed_count += 1;
                    }
                    Some(message) if !self.pending[usize::from(message.channel())].is_empty() => {
                        self.foreign_count += 1;
                        foreign.push(self.events.len());
                        self.events.push(event);
                    }
                    _ => self.events.push(event),
                },
            }
        }
        self.missing_count += self.pending.iter().map(VecDeque::len).sum::<usize>();
        peeled.restored_count += restored.len();
        let replaced_count = self.prefer_edited(&restored, &foreign);
        peeled.restored_count -= replaced_count;
        self.report(number, replaced_count, peeled);
        let last_tick = self.events.last().map_or(0, |event| event.tick);
        let end_tick = self.end_tick.unwrap_or(track.end_tick).max(last_tick);
        Track { events: self.events, end_tick }
    }

    /// Whether this message is the next one that shaping added, passing over a few that somebody
    /// removed since.
    fn is_added(&mut self, message: Message, bytes: &[u8]) -> bool {
        let pending = &mut self.pending[usize::from(message.channel())];
        let check = ledger::check(bytes);
        let found = pending.iter().take(MISSING_MAX + 1).position(|added| *added == check);
        if let Some(place) = found {
            self.missing_count += place;
            pending.drain(..=place);
        }
        found.is_some()
    }

    /// Where somebody edited a note, theirs stands and the take's own is not put back.
    fn prefer_edited(&mut self, restored: &[usize], foreign: &[usize]) -> usize {
        let note = |event: &Event| match event.message() {
            Some(Message::NoteOn { channel, key, .. }) => Some((event.tick, channel, key, true)),
            Some(Message::NoteOff { channel, key, .. }) => Some((event.tick, channel, key, false)),
            _ => None,
        };
        let edited: Vec<_> = foreign.iter().filter_map(|at| note(&self.events[*at])).collect();
        let is_replaced =
            |at: &usize| note(&self.events[*at]).is_some_and(|note| edited.contains(&note));
        let replaced: Vec<usize> = restored.iter().copied().filter(is_replaced).collect();
        let mut place = 0;
        self.events.retain(|_| {
            place += 1;
            replaced.binary_search(&(place - 1)).is_err()
        });
        replaced.len()
    }

    fn report(&self, number: usize, replaced_count: usize, peeled: &mut Peeled) {
        let mut say = |count: usize, what: &str| {
            if count > 0 {
                peeled.leftovers.push(format!("track {number}: {count} {what}"));
            }
        };
        say(
            self.foreign_count,
            "messages stand among the added ones that shaping did not add; they stay",
        );
        say(self.missing_count, "added messages were gone or changed already");
        say(replaced_count, "notes were edited since; the edited ones stay");
    }
}
