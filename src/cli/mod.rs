//! The program's verbs: each takes its options and gives an answer to print.

mod answer;
mod lanes;
mod performer;

// In the order in which a new user needs them.
mod look;

mod shape;

mod batch;
mod folder;

mod hear;

mod trace;

mod contrast;
mod peel;
mod punch;

mod audit;
mod plot;

mod field_text;
mod list;
mod schema;
mod show;
mod show_diff;
mod vet;

#[cfg(feature = "editor")]
mod edit;
#[cfg(not(feature = "editor"))]
#[path = "edit_left_out.rs"]
mod edit;

mod help;

mod command;

pub use command::run;
