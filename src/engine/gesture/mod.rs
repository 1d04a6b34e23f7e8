//! The hand: which messages are the gesture, and one smooth gesture out of a stepping controller.

pub mod controller;

mod ramp;

mod smoothing;

mod breath_gap;

pub mod conditioning;
