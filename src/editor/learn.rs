//! Learns from what the player does: which controller is moved, how far it goes, which key is struck.

use std::collections::BTreeMap;

use crate::engine::Message;
use crate::engine::input::message::{FINE_CONTROLLER_OFFSET, FINE_MAX};
use crate::engine::patch::Source;

/// A controller is meant if it travels this far, share of its range.
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
    /// Hears a message. The source, as soon as one has travelled far enough.
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

    /// How far the one that has travelled furthest has come, share of what is needed, 0..=1.
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
            // The fine half of another one says nothing by itself.
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

/// The raw value of a source in a message, share of its range.
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

/// What the player is asked to do while the hand is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Leave the controller at rest.
    Rest,
    /// Move it to full and hold it there.
    Full,
    /// Move it freely.
    Free,
}

impl Phase {
    /// What to do now, in one sentence.
    pub const fn sentence(self) -> &'static str {
        match self {
            Phase::Rest => "Leave the controller at rest, and your hand on it.",
            Phase::Full => "Now move it to full and hold it there.",
            Phase::Free => "Now move it to and fro, slowly and all the way.",
        }
    }
}

/// Seconds of each phase; thirty altogether.
const PHASE_S: f64 = 10.0;
/// The first part of a phase is the way there and does not count, seconds.
const WAY_S: f64 = 3.0;

/// The thirty seconds in which the hand is measured.
#[derive(Clone, Debug)]
pub struct Calibration {
    source: Source,
    elapsed_s: f64,
    last: f64,
    rest: Vec<f64>,
    full: Vec<f64>,
    lowest: f64,
    highest: f64,
}

/// What was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Where it rests, share of the source's range.
    pub rest: f64,
    /// Where it is full.
    pub full: f64,
    /// How far it moves by itself while the hand only lies on it, share of the range.
    pub flutter: f64,
}

impl Measured {
    /// Full lies below rest.
    pub fn is_inverted(&self) -> bool {
        self.full < self.rest
    }

    /// How far it goes, share of the source's range.
    pub fn travel(&self) -> f64 {
        (self.full - self.rest).abs()
    }
}

impl Calibration {
    /// Begins. `present` is the controller's last value, share of its range, if there is one.
    pub fn begin(source: Source, present: Option<f64>) -> Calibration {
        let last = present.unwrap_or(0.0);
        let (lowest, highest) = (last, last);
        let (rest, full) = (vec![last], Vec::new());
        Calibration { source, elapsed_s: 0.0, last, rest, full, lowest, highest }
    }

    /// What to do now.
    pub fn phase(&self) -> Phase {
        match self.elapsed_s {
            at_s if at_s < PHASE_S => Phase::Rest,
            at_s if at_s < 2.0 * PHASE_S => Phase::Full,
            _ => Phase::Free,
        }
    }

    /// Seconds that are left of the thirty.
    pub fn left_s(&self) -> f64 {
        (3.0 * PHASE_S - self.elapsed_s).max(0.0)
    }

    /// Hears a message.
    pub fn hear(&mut self, message: Message) {
        let Some(value) = raw(self.source, message) else { return };
        self.last = value;
        match (self.phase(), self.elapsed_s % PHASE_S) {
            (Phase::Rest, at_s) if at_s >= WAY_S => self.rest.push(value),
            (Phase::Full, at_s) if at_s >= WAY_S => self.full.push(value),
            (Phase::Rest, _) => self.rest = vec![value],
            (Phase::Full, _) => self.full = vec![value],
            (Phase::Free, _) => {
                self.lowest = self.lowest.min(value);
                self.highest = self.highest.max(value);
            }
        }
    }

    /// Time goes by. What was measured, when the thirty seconds are over.
    pub fn pass(&mut self, elapsed_s: f64) -> Option<Measured> {
        self.elapsed_s += elapsed_s;
        (self.elapsed_s >= 3.0 * PHASE_S).then(|| self.measured())
    }

    /// What has been measured so far.
    pub fn measured(&self) -> Measured {
        let rest = middle(&self.rest).unwrap_or(0.0);
        let ends = [self.lowest, self.highest];
        let furthest = ends
            .into_iter()
            .max_by(|one, other| (one - rest).abs().total_cmp(&(other - rest).abs()));
        let full = middle(&self.full).or(furthest).unwrap_or(rest);
        let spread = |list: &[f64]| {
            let (low, high) =
                list.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
            if list.is_empty() { 0.0 } else { high - low }
        };
        Measured { rest, full, flutter: spread(&self.rest) }
    }
}

fn middle(list: &[f64]) -> Option<f64> {
    let mut sorted = list.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}
