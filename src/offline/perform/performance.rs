//! One line as performed: what the engine hears, what it is asked and what it sends, each at its tick.

use std::collections::HashSet;

use crate::engine::patch::Patch;
use crate::engine::{Losses, View};
use crate::engine::{Message, Origin};
use crate::offline::destination::Destination;
use crate::offline::take::articulation::Chosen;
use crate::offline::take::line::TakeLine;
use crate::offline::take::wish::{Stretch, Wished};

/// Frames a second of every offline run.
pub const RATE_HZ: u32 = 48_000;

/// An event of the file that the engine hears. Its tag is its place in [`Performance::fed`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fed {
    /// When.
    pub tick: u64,
    /// In which track, from 0.
    pub track: usize,
    /// Which event of that track, from 0.
    pub index: usize,
    /// What.
    pub message: Message,
}

/// A message of the engine at its tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SentMessage {
    /// When.
    pub tick: u64,
    /// What.
    pub message: Message,
    /// Why.
    pub origin: Origin,
}

impl SentMessage {
    /// Whether an output sent it, to one of these addresses.
    pub fn is_layer_at(&self, destinations: &HashSet<Destination>) -> bool {
        matches!(self.origin, Origin::Layer(_))
            && destinations.contains(&Destination::of(self.message).0)
    }
}

/// When an observer looks, beside every note-on. The first time is frame 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Raster {
    /// Every so many frames (1 and up).
    All(u32),
    /// Every so many frames (1 and up) while anything changes.
    Changes(u32),
}

impl Raster {
    /// From one look to the next, frames.
    pub fn frames(self) -> u64 {
        let (Raster::All(frames) | Raster::Changes(frames)) = self;
        u64::from(frames.max(1))
    }
}

/// What an observer sees after each piece of time.
pub struct Observation<'a> {
    /// Frames up to here, since the start of the file.
    pub frame: u64,
    /// Frames of this piece.
    pub frames: u32,
    /// Whether the observer's own raster falls here; else a note has just begun.
    pub is_on_raster: bool,
    /// The tick of a note that has just begun.
    pub begun: Option<u64>,
    /// The keys that were struck with it, bit n for key n; of one line all.
    pub struck: u128,
    /// The engine's values; of several voices the leading one's.
    pub view: &'a View,
    /// The values of each voice that sounds, the first first; of one line those of the line, and in
    /// silence those of the voice that led last.
    pub voices: &'a [View],
}

impl Observation<'_> {
    /// The voices whose note has just begun.
    pub fn began(&self) -> impl Iterator<Item = &View> {
        let is_own = |view: &&View| {
            self.struck == u128::MAX || view.key.is_some_and(|key| self.struck >> key & 1 == 1)
        };
        self.voices.iter().filter(|_| self.begun.is_some()).filter(is_own)
    }
}

/// One line as performed.
#[derive(Debug)]
pub struct Performance {
    /// What went in.
    pub fed: Vec<Fed>,
    /// The keys of the take that chose articulations, their offs too.
    pub switches: Vec<Fed>,
    /// What came out, in order.
    pub sent: Vec<SentMessage>,
    /// What could not be done.
    pub losses: Losses,
}

/// Which messages of a performance are kept. A line of hours sends more than is held lightly.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeptMessages {
    /// All.
    #[default]
    All,
    /// The ons and offs of the take's notes.
    Notes,
    /// None: only an observer looks on.
    None,
}

impl KeptMessages {
    /// A message of this origin is kept.
    pub fn keeps(self, origin: Origin) -> bool {
        match self {
            KeptMessages::All => true,
            KeptMessages::Notes => matches!(origin, Origin::Note(_)),
            KeptMessages::None => false,
        }
    }
}

/// What is asked of a performance beside the take's own messages.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Every output is sent again here.
    pub resync_tick: Option<u64>,
    /// Wishes for single notes, in order of ticks.
    pub wishes: Vec<Wished>,
    /// Wishes for stretches, at most as many as the engine keeps.
    pub stretches: Vec<Stretch>,
    /// Articulations, in order of ticks.
    pub articulations: Vec<Chosen>,
    /// Addresses of the take whose messages the engine does not hear.
    pub left_out: HashSet<Destination>,
    /// What of it is kept.
    pub kept: KeptMessages,
}

impl Asked {
    /// The patch with which a line is performed: on its own channel, and with what is asked of its
    /// stretches.
    pub fn patch(&self, patch: &Patch, line: &TakeLine) -> Patch {
        let mut own = Patch { home_channel: line.channel, ..*patch };
        for stretch in &self.stretches {
            own.retouches.add(stretch.retouch);
        }
        own
    }
}
