//! The voice alone: what it promises of its sound under single notes and takes nobody would write down.

#[path = "../../engine/tests/die.rs"]
mod die;
#[path = "../../engine/tests/promise/improvised.rs"]
mod improvised;
#[path = "../../engine/tests/rehearsal.rs"]
mod rehearsal;
#[path = "../../engine/tests/room.rs"]
mod room;
#[path = "../../engine/tests/shipped.rs"]
mod shipped;

mod band;
mod spectrum;

mod clean;
mod notes;
mod stage;
mod takes;
