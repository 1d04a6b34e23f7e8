//! The window in which a composer sees the gesture become a performance, and bends its curves by hand.
//!
//! It knows nothing of who plays: that stands behind a [`feed::Feed`]. One function draws it all,
//! [`draw::view`], from the [`model::Model`] and the [`recent::Recent`]; what the player does comes
//! back as [`act::Act`]s, and every change of a file is an [`edit::Edit`] that can be taken back.
//! All of it runs on the window's own thread.

// From what is shown to who shows it.
pub mod printing;
pub mod song_wishes;

pub mod feed;
pub mod recent;

pub mod open_file;

pub mod disk;
pub mod library;

pub mod edit;
pub mod history;

pub mod calibration;
pub mod learn;
pub mod output_test;

pub mod strand;

pub mod act;

pub mod model;

pub mod fonts;
pub mod number_text;
pub mod theme;

pub mod draw;

pub mod app;
mod ask;
mod computer_hand;
mod learn_and_test;
mod print;

pub mod take_feed;

#[cfg(feature = "png")]
pub mod screenshot;

pub mod first_picture;
pub mod window;

pub use app::Editor;
