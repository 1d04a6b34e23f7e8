//! The window in which a composer sees the gesture become a performance, and bends its curves by hand.
//!
//! It knows nothing of who plays: that stands behind a [`feed::Feed`]. One function draws it all,
//! [`draw::view`], from the [`model::Model`] and the [`meter::Meter`]; what the player does comes
//! back as [`act::Act`]s, and every change of a file is an [`edit::Edit`] that can be taken back.

// From what is shown to who shows it.
pub mod feed;
pub mod meter;

pub mod sheet;

pub mod library;
pub mod store;

pub mod edit;
pub mod history;

pub mod learn;
pub mod trial;

pub mod act;
pub mod strand;

pub mod model;

pub mod figure;
pub mod fonts;
pub mod theme;

pub mod draw;

mod attend;
pub mod workbench;

pub mod take;

#[cfg(feature = "png")]
pub mod picture;
pub mod window;

pub use workbench::Editor;
