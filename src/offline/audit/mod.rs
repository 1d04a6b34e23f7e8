//! What a live player could not play, found before the part goes out.
//!
//! Each rule stands in a file of its own and looks at the performed notes, or at the strokes and
//! breaths. The rules are those of DESIGN section 9. They know what hands and lungs do in general;
//! the player knows what one pair of hands can do.

// A finding, then the rules in the order in which a player would ask, then all of them on a take.
pub mod finding;

mod range;

pub mod budget;
mod stroke;

mod double_stop;
mod leap;
mod open_note;
pub mod slide;

pub mod review;

pub mod report;

pub use finding::{AuditFinding, AuditRule, Severity};
pub use report::{as_json, as_text};
pub use review::{Audit, audit_bytes};
