//! Polso inside a host: the same engine played live, as a plugin before an instrument.
//!
//! The adapter only translates; the engine decides. It never reads a file but for a hand in its
//! window, and nothing on the audio thread allocates, locks or frees.

// From what the host says to what it hears.
pub mod parameters;
mod song;

mod key;
mod voices;

pub mod bank;
pub mod desk;
pub mod meter;

pub mod exclusive;

mod arrivals;
mod departures;
mod player;

pub mod state;

// The window that hosts open.
#[cfg(feature = "editor")]
mod glass;
#[cfg(feature = "editor")]
pub mod link;
#[cfg(feature = "editor")]
pub mod pair;
#[cfg(feature = "editor")]
mod pane;
#[cfg(feature = "editor")]
pub mod window;

mod export;
pub mod front;
mod guard;

pub use front::{Polso, PolsoThrough};
