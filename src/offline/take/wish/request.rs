//! Something asked of a note: where its note begins, and what it shall be.

use crate::engine::Wish;

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
    /// What; channel and key are those of the note.
    pub wish: Wish,
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
