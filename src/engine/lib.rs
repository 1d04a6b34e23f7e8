//! One gesture and the notes go in; everything a player's hands and breath would do comes out.
//!
//! The crate knows only `core` and `libm`: no heap, file, clock, host or framework. Its folders
//! stand in the order of the data: what arrives ([`input`]), the settings it is played with
//! ([`patch`]), the conditioned gesture, the notes, the layers, the line that holds them, the
//! [`output`] that turns values into messages, and the [`Section`] that leads through all of them.
//!
//! Threads: [`Section`] and everything it is given belong to whichever thread calls
//! [`Section::process`], an audio thread in a host. Nothing here locks, allocates or waits, so
//! every public item may be called on that thread; what is `const` or takes `&self` of a plain
//! value (patches, curves, messages, words) may be called on any.
#![no_std]

// In the order of the data path.
pub mod layer;

pub mod input;

pub mod patch;

mod gesture;

mod notes;

mod layers;

mod line;

pub mod output;

mod section;

pub mod mode;
pub mod phrase;
pub mod reason;
pub mod view;

pub mod math;

pub use input::{Channel, Input, Key, LegatoWish, Message, NoteWish, Parameter, Timed, Wish};
pub use layer::Layer;
pub use mode::Mode;
pub use notes::drone::PassedNotes;
pub use notes::pace::{Beat, NoteStart, Pace};
pub use output::{Origin, Sink};
pub use patch::Patch;
pub use phrase::Phrase;
pub use reason::Reason;
pub use section::{LINES_MAX, SECTION_BYTES_MAX, Section};
pub use view::{Losses, View};

/// The revision of the engine's sound. A change that alters output gets a new number. 2: joins that
/// are heard, vibrato about the note, silence at the gesture's own speed, a body.
pub const REVISION: u32 = 2;
