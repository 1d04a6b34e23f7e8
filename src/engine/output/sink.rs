//! Where messages go, and why each was sent.

use crate::input::Message;
use crate::layer::Layer;

/// Why the engine sent a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Origin {
    /// An input event of this tag went through unchanged: neither a note nor consumed.
    Passed(u32),
    /// The on or off of the note whose note-on had this tag. Velocity and time may have changed.
    Note(u32),
    /// A layer's own message.
    Layer(Layer),
    /// An off that nobody played: of a note, keyswitch or pedal that a jump, a stop or the last
    /// `reset` left down. Also a pedal that passes, on the channels of other voices.
    Owed,
}

/// Where the engine's messages go. The engine calls it on the audio thread, in order of time.
pub trait Sink {
    /// Takes one message at `frame` of the present block. Returns false when there is no room;
    /// the engine counts that as a drop and goes on. Only offs are sent again, first thing in the
    /// next block.
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool;
}
