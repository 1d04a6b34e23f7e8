//! Learns by listening which controller the player means: the one that is moved far enough.

use std::collections::BTreeMap;

use crate::engine::Message;
use crate::engine::input::message::{FINE_CONTROLLER_OFFSET, FINE_MAX};
use crate::engine::patch::Source;

/// A controller is meant if it travels this far, share of its range: a hand that only touches one
/// moves it less.
pub const TRAVEL_MIN: f64 = 0.30;
/// And passes through at least so many values: a switch that is pressed is no movement.
const VALUES_MIN: usize = 4;
/// The first controller number that is a channel mode message (MIDI 1.0).
const MODE_MIN: u8 = 120;
/// MIDI 1.0: bank, data entry and parameter numbers; they are no gesture.
const NO_GESTURE: [u8; 10] = [0, 32, 6, 38, 96, 97, 98, 99, 100, 101];

/// A candidate's travel so far.
#[derive(Clone, Copy, Debug)]
struct Travel {
    low: f64,
    high: f64,
    last: f64,
    values: usize,
}

/// Waits for a controller to be moved.
#[derive(Clone, Debug, Default)]
pub struct SourceLearner {
    travels: BTreeMap<u8, Travel>,
}

/// Keys of the candidates that are no controllers, beyond all controller numbers.
const PRESSURE: u8 = 200;
const POLY: u8 = 201;
const BEND: u8 = 202;

impl SourceLearner {
    /// Hears a message of the input. The source, as soon as one has travelled far enough.
    pub fn hear(&mut self, message: Message) -> Option<Source> {
        let (candidate, value) = match message {
            Message::Controller { number, value, .. } if is_gesture(number) => {
                (number, f64::from(value) / 127.0)
            }
            Message::ChannelPressure { value, .. } => (PRESSURE, f64::from(value) / 127.0),
            Message::PolyPressure { value, .. } => (POLY, f64::from(value) / 127.0),
            Message::PitchBend { value, .. } => (BEND, f64::from(value) / f64::from(FINE_MAX)),
            _ => return None,
        };
        let fresh = Travel { low: value, high: value, last: value, values: 1 };
        let travel = self.travels.entry(candidate).or_insert(fresh);
        travel.low = travel.low.min(value);
        travel.high = travel.high.max(value);
        travel.values += usize::from(value != travel.last);
        travel.last = value;
        let is_moved = travel.high - travel.low >= TRAVEL_MIN && travel.values >= VALUES_MIN;
        if is_moved { self.source(candidate) } else { None }
    }

    /// How far the controller that was moved furthest has come, share of what is needed, 0..=1.
    pub fn progress(&self) -> f64 {
        let travels = self.travels.values().map(|travel| travel.high - travel.low);
        (travels.fold(0.0, f64::max) / TRAVEL_MIN).min(1.0)
    }

    fn source(&self, candidate: u8) -> Option<Source> {
        let has =
            |number: u8| self.travels.get(&number).is_some_and(|one| one.values >= VALUES_MIN);
        match candidate {
            PRESSURE => Some(Source::ChannelPressure),
            POLY => Some(Source::PolyPressure),
            BEND => Some(Source::PitchBend),
            // The fine half of a controller pair (MIDI 1.0) says nothing by itself.
            number @ 32..=63 if self.travels.contains_key(&(number - FINE_CONTROLLER_OFFSET)) => {
                None
            }
            number @ 0..=31 if has(number + FINE_CONTROLLER_OFFSET) => {
                Some(Source::ControllerPair(number))
            }
            number => Some(Source::Controller(number)),
        }
    }
}

fn is_gesture(number: u8) -> bool {
    number < MODE_MIN && !NO_GESTURE.contains(&number)
}

/// The value that a message gives to a source, share of the source's range, 0..=1; `None` if the
/// message is another one's.
pub fn raw(source: Source, message: Message) -> Option<f64> {
    match (source, message) {
        (
            Source::Controller(own) | Source::ControllerPair(own),
            Message::Controller { number, value, .. },
        ) if own == number => Some(f64::from(value) / 127.0),
        (Source::MpeTimbre, Message::Controller { number: 74, value, .. })
        | (Source::ChannelPressure | Source::MpePressure, Message::ChannelPressure { value, .. })
        | (Source::PolyPressure, Message::PolyPressure { value, .. }) => {
            Some(f64::from(value) / 127.0)
        }
        (Source::PitchBend, Message::PitchBend { value, .. }) => {
            Some(f64::from(value) / f64::from(FINE_MAX))
        }
        _ => None,
    }
}
