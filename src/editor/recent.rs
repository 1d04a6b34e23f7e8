//! The last eight seconds of the line: its values, its notes, and how many messages go out.

use std::collections::VecDeque;

use super::feed::Snapshot;
use crate::engine::reason::Reason;
use crate::engine::{Phrase, View};

/// How far back it goes, seconds.
pub const SPAN_S: f64 = 8.0;
/// Snapshots that are kept at most: a hundred a second, and some to spare.
const MOMENTS_MAX: usize = 1_000;
/// Over how long the messages are counted, seconds.
const RATE_S: f64 = 1.0;

/// A note of the last eight seconds, from when to when the line followed it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecentNote {
    /// Its MIDI key.
    pub key: u8,
    /// From when, seconds, on the clock of [`Snapshot::at_s`].
    pub from_s: f64,
    /// Until when.
    pub to_s: f64,
    /// The values when it began; they say how it joined the note before.
    pub first: View,
}

/// What the line did in the last eight seconds.
#[derive(Clone, Debug, Default)]
pub struct Recent {
    snapshots: VecDeque<Snapshot>,
}

impl Recent {
    /// Adds the newest snapshot. If it lies before the last one, the feed has started anew and all
    /// that was before is forgotten.
    pub fn add(&mut self, snapshot: Snapshot) {
        if self.last().is_some_and(|last| snapshot.at_s < last.at_s) {
            self.snapshots.clear();
        }
        let oldest_s = snapshot.at_s - SPAN_S;
        while self.snapshots.front().is_some_and(|first| first.at_s < oldest_s)
            || self.snapshots.len() >= MOMENTS_MAX
        {
            self.snapshots.pop_front();
        }
        self.snapshots.push_back(snapshot);
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.snapshots.clear();
    }

    /// The snapshots, oldest first.
    pub fn snapshots(&self) -> impl DoubleEndedIterator<Item = &Snapshot> {
        self.snapshots.iter()
    }

    /// The newest snapshot; `None` before anything was played.
    pub fn last(&self) -> Option<&Snapshot> {
        self.snapshots.back()
    }

    /// The newest values; `None` before anything was played.
    pub fn view(&self) -> Option<&View> {
        self.last().map(|snapshot| &snapshot.view)
    }

    /// Messages that went out in the last second.
    pub fn messages_per_s(&self) -> u32 {
        let Some(now_s) = self.last().map(|last| last.at_s) else { return 0 };
        let recent = self.snapshots.iter().rev().take_while(|one| one.at_s > now_s - RATE_S);
        recent.map(|snapshot| snapshot.sent).sum()
    }

    /// The notes that the line followed, oldest first.
    pub fn notes(&self) -> Vec<RecentNote> {
        let mut notes: Vec<RecentNote> = Vec::new();
        let mut before: Option<u8> = None;
        for Snapshot { at_s, view, .. } in &self.snapshots {
            match (view.key, notes.last_mut()) {
                (Some(key), Some(last)) if before == Some(key) => last.to_s = *at_s,
                (Some(key), _) => {
                    notes.push(RecentNote { key, from_s: *at_s, to_s: *at_s, first: *view });
                }
                (None, _) => {}
            }
            before = view.key;
        }
        notes
    }

    /// Why the line sounds as it does just now: the reason that says most.
    pub fn reason(&self) -> Reason {
        let Some(view) = self.view() else { return Reason::Rest };
        if view.frozen.is_some() {
            return Reason::OutputFrozen;
        }
        match view.phrase {
            Phrase::Rest => Reason::Rest,
            Phrase::Tail => view.tail_reason,
            Phrase::Sounding if view.raw.is_none() => Reason::GestureUnknown,
            Phrase::Sounding => view.silence.unwrap_or(view.vibrato_reason),
        }
    }
}
