//! The way out: values become messages here and nowhere else, thinned, budgeted and encoded.

pub mod sink;

pub(crate) mod feedback;
pub(crate) mod sounding;

pub(crate) mod sender;

mod midi1;

mod scaling;
mod thinning;

mod budget;
mod undriven;

pub(crate) mod outputs;

pub(crate) mod portamento;
pub(crate) mod switching;

pub(crate) mod outlet;

pub use sink::{Origin, Sink};
