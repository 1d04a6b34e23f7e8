//! Takes are shaped and peeled: in memory, by the program, and damaged ones too.

#[path = "../../src/engine/tests/die.rs"]
mod die;
mod room;

mod sources;
mod takes;
mod trace;

mod lanes;
mod limits;

mod contrast;
mod edited;

mod bars;

mod program;
mod punch;

mod wish;

mod articulation;

mod mutated;

mod batch;
mod beside;
