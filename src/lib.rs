//! Polso turns one gesture into everything a player's hands and breath would do.

#[cfg(feature = "editor")]
pub mod editor;
pub use polso_engine as engine;
#[cfg(feature = "plugin")]
pub mod host;
pub mod offline;
pub mod profile;
#[cfg(feature = "sound")]
pub mod sound;
