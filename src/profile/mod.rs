//! The three files that say what is played, who hears it and whose hand it is.
//!
//! An instrument is music, a target is a receiver's addresses, a hand is the player's own
//! controller. [`patch()`] puts one of each together for the engine.

// From the text to the fields of its tables.
pub mod document;
pub mod fault;
pub mod form;
pub mod kind;
mod value_text;

pub mod shipped;

pub mod based_on;

pub mod log;

mod points;
pub mod table_reader;

// What every file has.
pub mod about;
pub mod address;
pub mod origin;

mod flatten;

pub mod load;

// The three kinds of file.
pub mod instrument;
pub mod vibrato;

pub mod articulation;

pub mod output;
mod transition;
pub mod voices;

pub mod target;

pub mod hand;

// All three together, for the engine.
pub mod patch;

// For whoever shows or edits a file.
pub mod any;
pub mod pitch;
pub mod schema;
pub mod unit;
pub mod wish;

pub use about::About;
pub use any::Any;
pub use document::Document;
pub use fault::{Fault, LoadError, Remark};
pub use hand::{Hand, hand_for};
pub use instrument::Instrument;
pub use kind::FileKind;
pub use load::{Loaded, Profile, check, load};
pub use log::Field;
pub use patch::{Mismatch, PatchError, patch};
pub use target::Target;
