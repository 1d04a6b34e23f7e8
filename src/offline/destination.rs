//! Where a channel message goes: to a controller, the bend wheel, a key.

use std::fmt;

use crate::engine::event::Message;

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

impl Destination {
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
