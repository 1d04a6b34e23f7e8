//! Requests for single notes and for stretches: as texts in the take, or in a small table beside it.
//!
//! A text event (text, marker or cue point: `FF 01`, `06`, `07`) that begins with `wish` stands
//! where its note begins: `wish: no vibrato`, or `wish A4: open` where several notes begin there.
//! In a track with notes it is for that track, in one without for whichever line has the note. A
//! line of a table says bar, beat and key: `12.3 A4: pressed`; a beat may have a fraction,
//! `12.3+1/2`. A stretch goes from place to place, the last one too: `12.1..14.4: softer 3 dB`, or
//! `12..14` in whole bars; a text begins one with its length, `wish for 6 beats: vibrato 70 %`. What
//! stands after a `#` of its own is for the reader. Several requests are divided by commas.

pub mod request;

mod place;

mod stretch_words;
mod words;

pub(super) mod find;
mod place_stretches;
mod song_table;

pub use request::{Spot, Stretch, StretchRequest, WishRequest, WishTable, Wished};
pub use song_table::{read_song_table, song_table};
pub use words::read_table;
pub(in crate::offline) use words::read_text;
