//! A plain bowed or blown voice that sounds what the engine's layers say, to judge a phrase by.
//!
//! Every millisecond a [`LineVoice`] is told what its line does ([`View`]) and which keys moved
//! ([`NoteEvents`]), and makes the samples up to the next one. Pitch and level are the layers', to the
//! hundredth of a decibel: a tone is a sum of partials whose power together never changes, so a
//! resonance that a vibrato sweeps over gives its colour to single partials and nothing to the level.
//! No partial lies above 16 kHz, so nothing folds back. A [`Stage`] places the lines and adds a room.
//!
//! Threads: all of it belongs to whichever thread renders, an audio thread in a host. Nothing here
//! locks, allocates, waits or fails; what is large ([`Stage`]) is made beforehand and kept in a box.
#![no_std]

// In the order of the data path.
mod note_events;

pub mod timbre;

mod relief;

mod partials;

mod envelope;
mod noise;
mod tone;

mod line_voice;

mod room;
mod stage;

pub use line_voice::{LineVoice, TONES_MAX, VoiceSetup};
pub use note_events::{EVENTS_MAX, NoteEvent, NoteEvents};
pub use polso_engine::View;
pub use stage::{STAGE_LINES_MAX, Stage};
pub use timbre::Timbre;

/// The most samples of one tick: a millisecond at the highest rate.
pub const TICK_SAMPLES_MAX: usize = 192;
/// Sample rates that a voice can be made for, Hz.
pub const RATE_HZ: core::ops::RangeInclusive<f64> = 8_000.0..=192_000.0;
