//! Where a channel message goes: to a controller, the bend wheel, a key.

use std::fmt;

use crate::engine::Message;

/// Where a message goes on its channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Destination {
    /// A controller.
    Controller(u8),
    /// The bend wheel.
    PitchBend,
    /// Pressure on the channel.
    ChannelPressure,
    /// Pressure on a key.
    PolyPressure,
    /// The program.
    Program,
    /// A key on or off.
    Key,
}

/// Data entry and the parametre numbers: meaningless outside their sequences (MIDI 1.0).
const PARAMETER_CONTROLLERS: [u8; 8] = [6, 38, 96, 97, 98, 99, 100, 101];

impl Destination {
    /// Whether a value that is sent there stays until the next.
    pub fn is_lasting(self) -> bool {
        match self {
            Destination::Controller(number) => !PARAMETER_CONTROLLERS.contains(&number),
            Destination::PitchBend | Destination::ChannelPressure => true,
            Destination::PolyPressure | Destination::Program | Destination::Key => false,
        }
    }

    /// Where this message goes, and with which value.
    pub fn of(message: Message) -> (Destination, u16) {
        match message {
            Message::Controller { number, value, .. } => {
                (Destination::Controller(number), value.into())
            }
            Message::PitchBend { value, .. } => (Destination::PitchBend, value),
            Message::ChannelPressure { value, .. } => (Destination::ChannelPressure, value.into()),
            Message::PolyPressure { value, .. } => (Destination::PolyPressure, value.into()),
            Message::Program { program, .. } => (Destination::Program, program.into()),
            Message::NoteOn { key, .. } | Message::NoteOff { key, .. } => {
                (Destination::Key, key.into())
            }
        }
    }
}

impl fmt::Display for Destination {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Destination::Controller(number) => write!(f, "cc{number}"),
            Destination::PitchBend => write!(f, "pitch bend"),
            Destination::ChannelPressure => write!(f, "channel pressure"),
            Destination::PolyPressure => write!(f, "poly pressure"),
            Destination::Program => write!(f, "program"),
            Destination::Key => write!(f, "keyswitch"),
        }
    }
}
