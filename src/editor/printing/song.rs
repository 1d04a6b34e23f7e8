//! What was performed, by its places in the song.

use std::collections::BTreeMap;

use crate::engine::Message;

/// Ticks of a quarter note in a printed file.
pub const QUARTER_TICKS: u16 = 960;

/// What stands at one place of a printed song.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Printed {
    /// A message that the receiver got.
    Message(Message),
    /// Quarter notes a minute from here on.
    Tempo(f64),
}

/// The same with its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PrintedEvent {
    /// Quarter notes since the start of the song.
    pub beat: f64,
    /// What stands there.
    pub what: Printed,
}

/// Time signatures by the ticks at which they begin: beats of a bar, and which power of two of a
/// whole note a beat is.
pub type Metres = BTreeMap<u64, (u8, u8)>;

/// What was performed, by its places in the song. Any thread but the audio thread: it lives on the
/// heap.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PrintedSong {
    /// In order of beats; of one beat in the order of sending.
    pub events: Vec<PrintedEvent>,
    /// Its metres.
    pub metres: Metres,
    /// Where the performance ends, quarter notes since the start of the song.
    pub end_beat: f64,
    /// Events for which there was no room.
    pub lost: u64,
}

/// What a window says of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PrintingState {
    /// Everything passes untouched, since what is on the track was printed before.
    pub is_printed: bool,
    /// Events kept since the song last started: messages and tempos.
    pub events: usize,
    /// The last bar that was performed, from 1.
    pub last_bar: u64,
    /// Messages for which there was no room.
    pub lost: u64,
}

/// The tick of a beat; what lies before the song is at its beginning.
pub fn tick_of(beat: f64) -> u64 {
    (beat * f64::from(QUARTER_TICKS)).round().max(0.0) as u64
}
