//! Whole files at once: a recorded take goes in, the performed line comes out.
//!
//! Everything here works on bytes in memory and calls the same engine as a live host does. Only
//! [`save`] touches a disk, and [`Request::settings`] reads instruments that are named by a path.

// In the order of the work.
pub mod error;

pub mod midi;

pub mod digest;
pub mod record;

pub mod peel;

pub mod take;

pub mod perform;

pub mod destination;

pub mod shape;

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

pub use error::Error;
pub use midi::Bars;
pub use shape::{Shaped, shape_bytes, shape_named};
pub use take::{Provenance, Request, Settings};
