//! Takes are shaped and peeled: in memory, by the program, and damaged ones too.

#[path = "../../src/engine/tests/die.rs"]
mod die;
mod room;

mod sources;
mod takes;
mod trace;

mod lanes;
mod limits;
mod look;
mod look_command;

mod contrast;
mod edited;

mod bars;

mod program;
mod punch;

mod stretch;
mod voices;
mod wish;

mod articulation;

mod mutated;

mod batch;
mod beside;
