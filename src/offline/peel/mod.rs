//! Takes out what shaping added and puts back what it consumed: the way back to the take.

mod added;

mod take_bytes;

mod file;

mod same_take;

mod give_back;

pub use file::{KeepingPlace, Peeled, shaped_mark};
pub use give_back::{GivenBack, find_shaped, give_back, peel};
pub use take_bytes::TakeBytes;
