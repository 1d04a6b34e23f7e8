//! Polso inside a host: the same engine played live, as a plugin before an instrument.
//!
//! The adapter only translates; the engine decides. It never reads a file, and nothing on the
//! audio thread allocates, locks or frees.

// From what the host says to what it hears.
pub mod parameters;
mod song;
mod voices;

pub mod bank;
pub mod desk;
pub mod meter;

pub mod exclusive;

mod arrivals;
mod departures;
mod player;

pub mod state;

mod export;
pub mod front;

pub use front::{Polso, PolsoThrough};
