//! Polso turns one gesture into everything a player's hands and breath would do.

#[cfg(feature = "editor")]
pub mod editor;
pub mod engine;
#[cfg(feature = "plugin")]
pub mod host;
pub mod offline;
pub mod profile;
