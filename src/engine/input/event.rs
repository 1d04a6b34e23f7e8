//! What happens to the engine, and when within a block.

use super::message::Message;
use super::parameter::Parameter;
use super::wish::Wish;

/// Something that happens to the engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Input {
    /// A message that was played or recorded. A note that arrives so while the song runs is the
    /// song's: a stop ends it. One that arrives while the song stands is a hand's.
    Midi(Message),
    /// A message that a hand plays just now, whatever the song does: a stop leaves its note.
    /// For adapters that can tell the hand from the recording; the rest is as with `Midi`.
    Live(Message),
    /// The recorded gesture of an automated parameter, 0..=1 of the controller's travel.
    Gesture(f64),
    /// Standing aside begins or ends: what sounds is ended, then everything passes untouched, or
    /// every output is sent again.
    Bypass(bool),
    /// A knob is turned, in the unit and range of [`Parameter`].
    Parameter(Parameter, f64),
    /// Where the song stands at this frame and how fast it runs. Sent at the start, at a stop
    /// and at every change of tempo. The step from running to standing is the stop: the notes
    /// that the song began end, keys that a hand holds stay, the bend goes home.
    Song {
        /// Quarter notes since the start of the song.
        beat: f64,
        /// Quarter notes a minute.
        tempo_bpm: f64,
        /// False while the transport stands still.
        running: bool,
    },
    /// The song has jumped to another place, by hand or at the end of a loop. Everything that
    /// sounds ends, tail, vibrato and pace are dropped, the ticks begin anew at this frame, the
    /// gesture stands at its last value, and every output is sent again: now, and before the
    /// first note if anything has arrived in between.
    Locate {
        /// Quarter notes since the start of the song.
        beat: f64,
        /// Quarter notes a minute.
        tempo_bpm: f64,
        /// False while the transport stands still.
        running: bool,
    },
    /// An articulation is chosen, by its place in the common list; one beyond it is passed over.
    /// Notes that begin from here on have it.
    Articulation(u8),
    /// What is asked of a note that begins at this very frame.
    Wish(Wish),
    /// Send every output's present value again, so that the receiver is right.
    Resync,
    /// The player has seen to the echo: outputs that stand still because of it move again, and
    /// every output is sent again.
    Thaw,
    /// Silence and rest, now: the off of every key emitted, bend centred, outputs at rest.
    Panic,
}

impl Input {
    /// The message, if it is one.
    pub const fn message(self) -> Option<Message> {
        match self {
            Input::Midi(message) | Input::Live(message) => Some(message),
            _ => None,
        }
    }
}

/// An [`Input`] and its place in the block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed {
    /// Frames since the start of the block; below the block's frame count, never falling
    /// from one event to the next.
    pub frame: u32,
    /// The adapter's own mark. What comes out because of this event carries it again.
    pub tag: u32,
    /// What happens.
    pub input: Input,
}
