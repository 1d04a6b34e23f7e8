//! A line through the engine: what it hears, what it sends, and what came of what was asked.

pub mod performance;

mod inputs;

mod play;

mod articulation_changes;
mod stretch_outcomes;
mod wish_outcomes;

pub use articulation_changes::{ArticulationChange, articulation_changes};
pub use inputs::{Placed, heard, heard_as_asked};
pub use performance::{
    Asked, Fed, KeptMessages, Observation, Performance, RATE_HZ, Raster, SentMessage,
};
pub use play::{AFTER_S_MAX, AFTER_S_MIN, HOURS_MAX, perform};
pub use wish_outcomes::WishOutcomes;
