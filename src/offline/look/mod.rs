//! What is in a MIDI file that came from somewhere, before anything is done to it.
//!
//! [`look_bytes`] gives a plain [`Look`]: what stands in the file, what that looks like, what
//! cannot be told from it, and the command that comes next. As a text it is what `polso look`
//! prints.

// From the smallest thing in a file to the whole.
mod address;
mod lane;

mod keyswitch;
mod note_span;
mod notes;

mod program_name;

mod part;

mod instrument;

mod track;

mod shaped;
mod song;
mod words;

mod file;

mod next_command;

mod report;

pub use file::{Look, look_bytes};
pub use instrument::ToldInstrument;
pub use keyswitch::KeyGroup;
pub use lane::LookedLane;
pub use next_command::NextCommand;
pub use notes::LookedNotes;
pub use part::ProgramChoice;
pub use shaped::ShapedBy;
pub use song::{Metre, SongOutline, Tempo};
pub use track::{LookedPart, LookedTrack};
pub use words::LookedText;
