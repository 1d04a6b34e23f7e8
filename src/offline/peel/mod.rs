//! Takes out what shaping added and puts back what it consumed: the way back to the take.

mod added;

mod file;

pub use file::{Peeled, peel, shaped_mark};
