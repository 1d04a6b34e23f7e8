//! Takes are shaped and peeled: in memory, by the program, and damaged ones too.

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

mod stretch;
mod voices;
mod wish;

mod articulation;

mod mutated;

mod batch;
mod beside;
