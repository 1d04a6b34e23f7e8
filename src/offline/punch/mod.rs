//! Bars of a new take go into an old one, joined within a bar and without a step in the gesture.

mod glide;

mod notes;

mod takes;

mod shaped;

pub use shaped::{PunchedShape, punch_shaped, recovered};
pub use takes::punch;
