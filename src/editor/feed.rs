//! The one small opening through which the living values come in and the player's wishes go out.
//!
//! The editor knows no host, no port and no file of notes: whoever plays the line stands behind a
//! [`Feed`]. A take in a file does ([`super::take_feed::TakeFeed`]), and a plugin can.

use crate::engine::event::{Input, Message};
use crate::engine::patch::Patch;
use crate::engine::{Losses, View};

/// The values of one moment, about a hundred of them a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snapshot {
    /// Seconds of playing so far; never falls, except when it starts again from nothing.
    pub at_s: f64,
    /// The engine's values.
    pub view: View,
    /// What could not be done so far.
    pub losses: Losses,
    /// Messages that went out since the moment before.
    pub sent: u32,
}

/// A message that arrived at the input, before anything was made of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputMessage {
    /// Seconds, on the clock of [`Snapshot::at_s`].
    pub at_s: f64,
    /// The message.
    pub message: Message,
}

/// The texts of one slot: instrument, target and hand, each whole in itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Texts {
    /// The instrument's text.
    pub instrument: String,
    /// The target's text.
    pub target: String,
    /// The hand's text.
    pub hand: String,
}

/// What is to be played from now on, and kept with the project.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// Both slots.
    pub slots: [Texts; 2],
    /// The one that plays, 0 or 1.
    pub slot: usize,
    /// What its texts mean.
    pub patch: Patch,
}

/// A wish of the player at the window.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// Play this, at once: a note that sounds goes on, and what goes out moves over within 50 ms.
    Play(Box<Setup>),
    /// Play this only to try something out; the project keeps what it has.
    Try(Box<Patch>),
    /// The engine hears this now: a panic, a resync, a note of a trial.
    Input(Input),
}

/// A take that can be wound: where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakeTransport {
    /// The present place, seconds from the beginning.
    pub place_s: f64,
    /// The whole length, seconds.
    pub length_s: f64,
    /// It plays.
    pub is_running: bool,
}

/// Whoever plays the line. Nothing here waits.
pub trait Feed {
    /// The next moment that has not been read, oldest first.
    fn read(&mut self) -> Option<Snapshot>;

    /// The next message of the input that has not been read, oldest first.
    fn hear(&mut self) -> Option<InputMessage>;

    /// Does what the player wishes.
    fn order(&mut self, order: Order);

    /// Time goes by in the window, seconds since the last call. A feed that plays by itself has
    /// nothing to do here.
    fn pass(&mut self, _elapsed_s: f64) {}

    /// Where the take stands, if it can be wound.
    fn transport(&self) -> Option<TakeTransport> {
        None
    }

    /// Winds the take to a place, seconds from the beginning.
    fn seek(&mut self, _place_s: f64) {}

    /// Lets the take run, or stand.
    fn run(&mut self, _is_running: bool) {}
}
