//! The program's verbs: each takes its options and gives an answer to print.

mod answer;
mod performer;

// In the order in which a new user needs them.
mod shape;

mod batch;
mod folder;

mod hear;

mod trace;

mod contrast;
mod peel;

mod audit;
mod plot;

mod field_text;
mod list;
mod show;
mod show_diff;
mod vet;

mod schema;

#[cfg(feature = "editor")]
mod edit;

mod command;

pub use command::run;
