//! One page for the live player: the drawn line with bows or breaths, open strings and the findings.
//!
//! Black on white, A4, to be printed. It is a question to the player, not an order.

// The paper and what stands on it, then its parts, then the whole.
pub mod paper;

mod content;

mod rows;

mod finding_list;
mod marks;

pub mod player_page;

#[cfg(feature = "png")]
pub mod pdf;

pub use paper::{HEIGHT, WIDTH};
pub use player_page::audit_and_page_bytes;
