//! Polso turns one gesture into everything a player's hands and breath would do.

pub mod engine;
pub mod offline;
pub mod profile;
