//! What one address of a channel is sent over a file: how often, how far, how finely, how fast.

use std::collections::BTreeSet;

use serde::Serialize;

use super::address::{LaneAddress, layer_at};
use crate::engine::Message;
use crate::engine::patch::{Source, TargetPatch};
use crate::offline::take::present::gesture_of;
use crate::profile::address::source_option;

/// From so many different values on an address moves as a hand does; below, somebody set it here
/// and there. A judgement.
const HAND_STEPS_MIN: usize = 8;

/// What one address is sent.
#[derive(Clone, Debug, Serialize)]
pub struct LookedLane {
    /// `cc11`, `pitch bend`, `channel pressure`, `poly pressure`, `program`, `rpn 0`, `nrpn 5`.
    pub address: String,
    /// What MIDI 1.0 calls it, where that is in common use.
    pub name: Option<&'static str>,
    /// Messages.
    pub messages: usize,
    /// The lowest value, 0..=127, or 0..=16383 of bends and parameters.
    pub lowest: u16,
    /// The highest.
    pub highest: u16,
    /// Different values.
    pub steps: usize,
    /// The median time from one change of the value to the next, milliseconds; `None` below three
    /// changes, where nothing is typical.
    pub interval_ms: Option<f64>,
    /// How `--source` calls it; `None` if it can be no gesture.
    pub source: Option<String>,
    /// What the target `generic` sends there; `None` if nothing.
    pub layer: Option<String>,
    /// The share of the line's notes that begin while it stands at 0, after it has moved; of
    /// controllers, and of channel pressure. As a gesture 0 is nothing.
    pub notes_at_zero_share: f64,
    /// The target `generic` sends there too, and it has two different values or more.
    pub is_written_over: bool,
    /// The gesture that it could be.
    #[serde(skip)]
    pub gesture: Option<Source>,
}

impl LookedLane {
    /// It moves as a hand does, and does not only stand here and there.
    pub fn is_hand(&self) -> bool {
        self.gesture.is_some() && self.steps >= HAND_STEPS_MIN
    }

    /// It has more than one value.
    pub fn is_moving(&self) -> bool {
        self.steps > 1
    }
}

/// Counts what one address is sent, message by message.
#[derive(Debug)]
pub struct LaneTally {
    gesture: Option<Source>,
    messages: usize,
    values: BTreeSet<u16>,
    last: Option<u16>,
    changed_s: Option<f64>,
    intervals_ms: Vec<f64>,
    notes_at_zero: usize,
}

impl LaneTally {
    /// The address of this message.
    pub fn new(message: Message) -> LaneTally {
        LaneTally {
            gesture: gesture_of(message).map(|(_, source, _)| source),
            messages: 0,
            values: BTreeSet::new(),
            last: None,
            changed_s: None,
            intervals_ms: Vec::new(),
            notes_at_zero: 0,
        }
    }

    /// The next value.
    pub fn take(&mut self, value: u16, at_s: f64) {
        self.messages += 1;
        self.values.insert(value);
        if self.last != Some(value) {
            let before_s = self.changed_s.filter(|_| self.last.is_some());
            self.intervals_ms.extend(before_s.map(|before_s| 1000.0 * (at_s - before_s)));
            self.changed_s = Some(at_s);
        }
        self.last = Some(value);
    }

    /// A note begins.
    pub fn note(&mut self) {
        self.notes_at_zero += usize::from(self.last == Some(0));
    }

    /// What came of it over so many notes, beside a target that sends too.
    pub fn finish(
        self,
        address: LaneAddress,
        note_count: usize,
        target: &TargetPatch,
    ) -> LookedLane {
        let layer = layer_at(address, target);
        // A parameter's data would else be taken for a gesture of controller 6.
        let gesture = match address {
            LaneAddress::Plain(_) => self.gesture,
            _ => None,
        };
        LookedLane {
            address: address.to_string(),
            name: address.name(),
            messages: self.messages,
            lowest: self.values.first().copied().unwrap_or_default(),
            highest: self.values.last().copied().unwrap_or_default(),
            steps: self.values.len(),
            interval_ms: (self.intervals_ms.len() > 1)
                .then_some(self.intervals_ms)
                .and_then(median),
            source: gesture.map(source_option),
            notes_at_zero_share: self.notes_at_zero as f64 / note_count.max(1) as f64,
            is_written_over: layer.is_some() && self.values.len() > 1,
            layer,
            gesture,
        }
    }
}

/// The middle one of several values, of an even number the upper of the two.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    let place = (!values.is_empty()).then_some(middle)?;
    Some(*values.select_nth_unstable_by(place, f64::total_cmp).1)
}
