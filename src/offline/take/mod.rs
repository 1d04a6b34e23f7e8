//! A take made ready: its lines and gestures, its words, the bars to change, and who plays.

pub mod settings;

pub mod line;

pub(in crate::offline) mod present;

pub mod region;

pub(in crate::offline) mod text;

pub mod articulation;
pub mod wish;

mod recorded;
mod request;

mod prepare;

pub(super) use prepare::{PreparedTake, prepare};
pub use recorded::recorded_request;
pub use region::Region;
pub use request::{Request, named};
pub use settings::{Provenance, Settings};
