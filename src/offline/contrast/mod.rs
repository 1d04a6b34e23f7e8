//! What differs between two files, by bar and output: counts, what is missing, what was added, how far.
//!
//! Places in the score are compared exactly, also between files of different resolution. Levels
//! (controllers, bend, pressure) are held values: what counts is what the receiver has heard by
//! then. The records that shaping leaves for the way back are no music and are passed over; what
//! two files were shaped with is told as a notice.

// How files are told apart, then what is compared of them, then the whole.
pub mod tolerance;

mod timeline;

mod bend_range;
mod streams;

pub mod difference;

mod pairing;

mod events;
mod levels;
mod notes;

pub mod files;

pub mod report;

pub use difference::BarDifference;
pub use files::{Contrast, contrast};
pub use report::{as_json, as_text};
pub use tolerance::{TOLERANCE_RULE, Tolerance};
