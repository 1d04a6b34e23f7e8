//! The keys: which are held, how fast they come, where the hand lies, what was asked of them.

pub mod drone;

pub mod held;

pub mod pace;

pub mod strings;

pub mod wishes;
