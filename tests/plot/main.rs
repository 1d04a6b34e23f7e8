//! The line as a picture: what stands in it, where, and that nothing gets lost or in the way.

// The room, then the proofs.
mod room;
#[path = "../written/mod.rs"]
mod written;

mod columns;
mod places;
mod program;
mod words;
