//! What the engine promises, held against improvised takes with everything on.

#[path = "../die/mod.rs"]
mod die;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;

mod improvised;
mod receivers;

mod blocks;
mod rates;

mod bounds;
mod gesture;
mod notes;
mod owed;
mod resets;
mod rest;
mod shapes;
mod vibrato;
