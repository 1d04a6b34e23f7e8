//! The main job: a recorded take goes in, the performed line comes out in the same file.

mod seam;

mod confine;

pub mod merge;

pub mod report;
mod summary;

mod lanes;

mod line;

mod file;

mod idle_seed;

pub use file::{Shaped, shape_bytes, shape_named, shape_over_lanes};
pub use idle_seed::idle_seed;
pub use lanes::LaneRule;
