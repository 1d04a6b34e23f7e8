//! What the editor needs of whoever plays the line: values and messages come in, the player's wishes go out.
//!
//! The editor knows no host, no port and no MIDI file: whoever plays the line is a [`Feed`]. A take
//! in a file is one ([`super::take_feed::TakeFeed`]), and a plugin is another.

use std::path::PathBuf;

use super::printing::song::{PrintedSong, PrintingState};
use super::song_wishes::SongWishes;
use crate::engine::patch::Patch;
use crate::engine::{Input, Message};
use crate::engine::{Losses, View};
use crate::profile::wish::SongStretch;

/// The line's values at one moment; about a hundred of them come each second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snapshot {
    /// Seconds of playing so far. It rises from snapshot to snapshot, except after a new start.
    pub at_s: f64,
    /// The engine's values.
    pub view: View,
    /// What the engine could not do so far.
    pub losses: Losses,
    /// Messages that went out since the snapshot before.
    pub sent: u32,
}

/// A message as it arrived at the input; the editor learns controllers and keys from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputMessage {
    /// Seconds, on the clock of [`Snapshot::at_s`].
    pub at_s: f64,
    /// The message.
    pub message: Message,
}

/// The texts of one slot; none of them is based on another file.
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
pub struct ChosenSetup {
    /// Both slots.
    pub slots: [Texts; 2],
    /// The one that plays, 0 or 1.
    pub slot: usize,
    /// What the texts of that slot mean for the engine.
    pub patch: Patch,
}

/// The hand that reads what is played just now, in every project of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ComputerHand {
    /// Its id; `None` if the project's own hand reads everything.
    pub name: Option<String>,
    /// The lane on the track was recorded already, and is read by the project's hand.
    pub is_recorded: bool,
}

/// A wish of the player at the window.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// Play this from now on and keep it with the project. A note that sounds goes on, and the
    /// outputs cross over to their new values within 50 ms.
    Play(Box<ChosenSetup>),
    /// Play this for a test of an output; the project keeps what it has.
    Try(Box<Patch>),
    /// The engine hears this now: a panic, a resync, a note of a test.
    Input(Input),
    /// Ask this of the song's stretches, and nothing else. Kept with the project.
    Ask(Vec<SongStretch>),
    /// The file of this computer's hand is another now.
    ComputerHand,
    /// The lane on the track is to be recorded anew, by this computer's hand.
    RecordAnew,
    /// What is on the track was printed, so that everything passes untouched; or the line follows
    /// the hand again. Kept with the project.
    Printed(bool),
}

/// Where a take stands, and whether it plays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakeTransport {
    /// The present place, seconds from the beginning.
    pub place_s: f64,
    /// The whole length, seconds.
    pub length_s: f64,
    /// It plays.
    pub is_running: bool,
}

/// Whoever plays the line. The editor calls it on the window's thread; no call may block.
pub trait Feed {
    /// The next snapshot that has not been read, oldest first.
    fn read(&mut self) -> Option<Snapshot>;

    /// The next message of the input that has not been read, oldest first.
    fn hear(&mut self) -> Option<InputMessage>;

    /// Does what the player wishes.
    fn order(&mut self, order: Order);

    /// `elapsed_s` seconds have gone by in the window since the last call. A feed that plays by its
    /// own clock, as a plugin, need not do anything.
    fn pass(&mut self, _elapsed_s: f64) {}

    /// Where the take stands; `None` if there is no take.
    fn transport(&self) -> Option<TakeTransport> {
        None
    }

    /// Where the hand of this computer is kept, if there may be one.
    fn computer_hand_path(&self) -> Option<PathBuf> {
        None
    }

    /// The hand of this computer; `None` where nobody plays live.
    fn computer_hand(&mut self) -> Option<ComputerHand> {
        None
    }

    /// What a window says of the performance that could be printed; `None` if none is kept.
    fn printing(&mut self) -> Option<PrintingState> {
        None
    }

    /// What is asked of the song's stretches; `None` where no song is played.
    fn song_wishes(&mut self) -> Option<SongWishes> {
        None
    }

    /// What was performed since the song last started, by its places in the song.
    fn performed(&mut self) -> Option<PrintedSong> {
        None
    }

    /// Winds the take to a place, seconds from its beginning; beyond the end is the end.
    fn seek(&mut self, _place_s: f64) {}

    /// Lets the take play, or stop.
    fn run(&mut self, _is_running: bool) {}
}
