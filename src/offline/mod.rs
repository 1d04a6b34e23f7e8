//! Whole files at once: a recorded take goes in, the performed line comes out.
//!
//! Everything here works on bytes in memory and calls the same engine as a live host does. Only
//! [`save`] and [`stored_take`] touch a disk, and [`Request::settings`] reads instruments that are named by a path.

// In the order of the work.
pub mod error;

pub mod midi;

pub mod digest;
pub mod record;

pub mod destination;

pub mod peel;

pub mod take;

mod minutes;

pub mod perform;

pub mod shape;

pub mod punch;

pub mod look;

pub mod trace;

pub mod contrast;

mod owner;
pub mod performed_notes;

pub mod audit;

#[cfg(feature = "hear")]
pub mod hear;

mod song_name;

pub mod plot;

pub mod page;

pub mod save;
mod save_error;

pub mod stored_take;

pub use error::Error;
pub use midi::Bars;
pub use shape::{LaneRule, Shaped, shape_bytes, shape_named, shape_over_lanes};
pub use take::{Provenance, Request, Settings};
