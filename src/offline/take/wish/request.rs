//! Something asked of a note or of a stretch: where it is, and what it shall be.

use std::fmt;

use crate::engine::patch::Retouch;
use crate::engine::{NoteWish, Wish};
use crate::profile::wish::StretchWish;

/// A wish and the tick of its note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wished {
    /// The tick of the note-on.
    pub tick: u64,
    /// What is asked for.
    pub wish: Wish,
    /// Which of the requests it is.
    pub request: usize,
}

/// Everything that a table asks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WishTable {
    /// Of single notes.
    pub notes: Vec<WishRequest>,
    /// Of stretches.
    pub stretches: Vec<StretchRequest>,
}

/// Something asked of a note.
#[derive(Clone, Debug, PartialEq)]
pub struct WishRequest {
    /// Where it is written, as a sentence begins: `wishes, line 3`.
    pub place: String,
    /// Where its note begins, in words: `12.3+1/2`.
    pub beat: String,
    /// Where its note begins.
    pub spot: Spot,
    /// Its note's key; `None` is every note that begins there.
    pub key: Option<u8>,
    /// What.
    pub asked: NoteWish,
}

/// Where a note begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spot {
    /// As a table has it.
    Beat {
        /// From 1.
        bar: u64,
        /// From 1, with its fraction.
        beat: f64,
    },
    /// At a text.
    Text {
        /// Its tick.
        tick: u64,
        /// Its track from 0, if the track has notes.
        track: Option<usize>,
    },
}

/// Something asked of a stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct StretchRequest {
    /// Where it is written, as a sentence begins: `wishes, line 3`.
    pub place: String,
    /// From where to where, in words: `12.1..14.4`.
    pub beats: String,
    /// From where to where.
    pub span: Span,
    /// What.
    pub asked: Vec<StretchWish>,
}

/// From where to where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Span {
    /// As a table has it; the last place counts too.
    Places(Place, Place),
    /// From a text on.
    Text {
        /// Its tick.
        tick: u64,
        /// Its track from 0, if the track has notes.
        track: Option<usize>,
        /// For how long.
        length: Length,
    },
}

/// A bar, a beat of it, or a part of a beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// From 1.
    pub bar: u64,
    /// From 1, with its fraction, and how many beats it lasts; `None` is the whole bar.
    pub beat: Option<(f64, f64)>,
}

/// How long a stretch is that a text begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Length {
    /// Beats.
    Beats(f64),
    /// Bars, from the text's place to the same place so many bars later.
    Bars(f64),
}

impl fmt::Display for Length {
    /// As a text has it: `for 6 beats`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (count, unit) = match self {
            Length::Beats(beats) => (beats, "beat"),
            Length::Bars(bars) => (bars, "bar"),
        };
        let plural = if *count == 1.0 { "" } else { "s" };
        write!(f, "for {count} {unit}{plural}")
    }
}

/// Something asked of a stretch of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// The first tick that it is meant for.
    pub from_tick: u64,
    /// The first tick behind it.
    pub to_tick: u64,
    /// What the engine hears of it.
    pub retouch: Retouch,
    /// From where to where, and what, in words: `12.1..14.4: softer 3 dB`.
    pub words: String,
}
