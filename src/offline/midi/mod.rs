//! The recorded take as a MIDI file holds it: tracks of events, each with its own bytes.
//!
//! Standard MIDI Files 1.0, formats 0 and 1. Nothing that a file holds is dropped: what cannot
//! be kept is an error with its place. Limits have names, so a hostile file cannot exhaust memory.

pub mod quantity;

pub mod event;
pub mod file;

pub mod read;
pub mod write;

pub mod metre_map;
pub mod tempo_map;

pub mod bars;

pub use bars::Bars;
pub use event::{Bytes, TrackEvent};
pub use file::{Division, EVENT_COUNT_MAX, FILE_BYTES_MAX, File, Foreign, Track};
pub use metre_map::MetreMap;
pub use tempo_map::TempoMap;
