//! Whole files at once: a recorded take goes in, the performed line comes out.
//!
//! Everything here works on bytes in memory and calls the same engine as a live host does. Only
//! [`save`] touches a disk.

// In the order of the work.
pub mod midi;

pub mod line;

mod text;

pub mod articulation;
pub mod wish;

pub mod destination;
pub mod perform;

pub mod region;

pub mod digest;
pub mod ledger;
pub mod weave;

pub mod shape;

pub mod report;
mod summary;

pub mod trace;

pub mod peel;
mod rind;

pub mod contrast;

mod chord;
mod owner;
pub mod performed_notes;

pub mod audit;

mod song_name;

pub mod plot;

pub mod page;

pub mod error;
pub mod save;

pub use error::Error;
pub use midi::Bars;
pub use shape::{Shaped, shape_bytes};

use crate::engine::patch::Patch;

/// Names and hashes of the three files, as the marker has them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Provenance {
    /// The instrument.
    pub instrument: String,
    /// The target.
    pub target: String,
    /// The hand.
    pub hand: String,
    /// The table of wishes, if there is one.
    pub wishes: Option<String>,
}

/// What a take is shaped with.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Everything the engine needs; the seed and the gesture's source too.
    pub patch: Patch,
    /// The instrument's names of its styles, in order.
    pub styles: Vec<String>,
    /// Where the patch came from.
    pub provenance: Provenance,
    /// The scale of the imperfection that is in the patch, 0..=2.
    pub imperfection: f64,
    /// The tracks to shape, from 1; empty is every line with a gesture, or the only line.
    pub tracks: Vec<usize>,
    /// The bars to change; `None` is all.
    pub bars: Option<Bars>,
    /// What is asked of single notes, beside what the take's own texts ask.
    pub wishes: Vec<wish::Request>,
    /// A file that was shaped before is peeled and shaped again instead of being refused.
    pub is_forced: bool,
}
