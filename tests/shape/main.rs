//! Takes are shaped and peeled: in memory, by the program, and damaged ones too.

mod room;

mod sources;
mod takes;
mod trace;

mod limits;
mod look;
mod look_command;

mod contrast;
mod edited;

mod bars;

mod program;

mod wish;

mod articulation;

mod mutated;

mod batch;
