//! Polso inside a host: the same engine played live, as a plugin before an instrument.
//!
//! The adapter only translates; the engine decides. It reads no file but this computer's hand and
//! those that are opened in its window, and nothing on the audio thread allocates, locks or frees.
//!
//! Three threads come here: the host's main thread, its audio thread, and while the window is open
//! the window's own. Every public item says who may call it.

// What a project keeps, and how it gets to the player.
pub mod state;
pub mod stretches;

mod exchange;
pub mod hand_off;

pub mod slot_patches;

pub mod project;

pub mod computer_hand;

pub mod parameters;

// From what the host says to what it hears.
mod control_changes;
mod transport;

pub mod system_exclusive;
mod voices;

mod events_in;
mod events_out;

pub mod live_values;
pub mod performed;
mod player;

// The window that hosts open.
#[cfg(feature = "editor")]
pub mod window_slots;

#[cfg(feature = "editor")]
pub mod kept_performance;

#[cfg(feature = "editor")]
pub mod window_access;

#[cfg(feature = "editor")]
pub mod gatherer;

#[cfg(feature = "editor")]
pub mod plugin_feed;

#[cfg(feature = "editor")]
mod plugin_editor;

#[cfg(feature = "editor")]
mod window_thread;

#[cfg(feature = "editor")]
pub mod plugin_window;

// The doors.
pub mod plugin;

mod entry_points;
mod gui_filter;

pub use plugin::{Polso, PolsoThrough};
