//! What a receiver has been told and still holds: its controllers, program, bend and the tempo.

use super::song::{Printed, PrintedEvent};
use crate::engine::Message;
use crate::engine::input::message::SUSTAIN_CONTROLLER;

/// Channel mode messages are no values that stay (MIDI 1.0).
const MODE_MIN: u8 = 120;
/// Data entry and the choice of a registered or other parameter: only their order has a meaning.
const DATA: [u8; 6] = [6, 38, 98, 99, 100, 101];
/// The coarse numbers by which such a choice begins.
const CHOICES: [u8; 2] = [99, 101];
/// A choice, its data and the null behind them are six messages.
const CHOICE_MAX: usize = 8;

/// What holds until something else of the same kind comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Tempo,
    Controller(u8, u8),
    Program(u8),
    Pressure(u8),
    Bend(u8),
    Parameter(u8),
}

/// What holds at one place, in the order in which it was last said.
#[derive(Clone, Debug, Default)]
pub struct ReceiverState {
    held: Vec<(Kind, Vec<Printed>)>,
}

impl ReceiverState {
    /// Hears what goes out. Notes and what belongs to them do not stay.
    pub fn hear(&mut self, what: Printed) {
        let Some(kind) = kind(what) else { return };
        let place = self.held.iter().position(|(held, _)| *held == kind);
        let mut said = place.map(|place| self.held.remove(place).1).unwrap_or_default();
        if !matches!(kind, Kind::Parameter(_)) || begins_choice(what, &said) {
            said.clear();
        }
        if said.len() < CHOICE_MAX {
            said.push(what);
        }
        self.held.push((kind, said));
    }

    /// All of it, said again at one place.
    pub fn at(&self, beat: f64) -> impl Iterator<Item = PrintedEvent> {
        let all = self.held.iter().flat_map(|(_, said)| said);
        all.map(move |what| PrintedEvent { beat, what: *what })
    }

    /// The channels whose pedal is down.
    pub fn pedals(&self) -> impl Iterator<Item = u8> {
        self.held.iter().filter_map(|(kind, said)| match (kind, said.last()) {
            (
                Kind::Controller(channel, SUSTAIN_CONTROLLER),
                Some(Printed::Message(Message::Controller { value: 1.., .. })),
            ) => Some(*channel),
            _ => None,
        })
    }
}

fn kind(what: Printed) -> Option<Kind> {
    let message = match what {
        Printed::Tempo(_) => return Some(Kind::Tempo),
        Printed::Message(message) => message,
    };
    match message {
        Message::Controller { number: MODE_MIN.., .. } => None,
        Message::Controller { channel, number, .. } if DATA.contains(&number) => {
            Some(Kind::Parameter(channel))
        }
        Message::Controller { channel, number, .. } => Some(Kind::Controller(channel, number)),
        Message::Program { channel, .. } => Some(Kind::Program(channel)),
        Message::ChannelPressure { channel, .. } => Some(Kind::Pressure(channel)),
        Message::PitchBend { channel, .. } => Some(Kind::Bend(channel)),
        Message::NoteOn { .. } | Message::NoteOff { .. } | Message::PolyPressure { .. } => None,
    }
}

/// A parameter is chosen anew, and it is not the null behind the data (127, RP).
fn begins_choice(what: Printed, said: &[Printed]) -> bool {
    match what {
        Printed::Message(Message::Controller { number, value, .. }) => {
            CHOICES.contains(&number) && (value < 127 || said.is_empty())
        }
        _ => false,
    }
}
