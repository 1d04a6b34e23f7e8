//! What can be wrong with a take, each in one sentence with its place and what is allowed.

use thiserror::Error;

use crate::profile::{LoadError, PatchError};

use super::midi::file::{EVENT_COUNT_MAX, FILE_BYTES_MAX};

/// Why a file could not be read, shaped or written.
#[derive(Debug, Error)]
pub enum Error {
    /// A MIDI file is not as it should be. Bytes count from 0, tracks from 1.
    #[error("{}byte {byte}: {what}", track.map_or(String::new(), |track| format!("track {track}, ")))]
    Midi {
        /// The byte of the file.
        byte: usize,
        /// The track, if it is inside one.
        track: Option<usize>,
        /// What is wrong there.
        what: String,
    },
    /// The file is larger than any take.
    #[error("the file has {size} bytes; allowed is at most {size_max}")]
    TooLarge {
        /// Its size.
        size: usize,
        /// The largest allowed.
        size_max: usize,
    },
    /// The file has more events than any take.
    #[error("the file has too many events; allowed is at most {count_max}")]
    TooManyEvents {
        /// The most allowed.
        count_max: usize,
    },
    /// The shaped file would be larger than any that is read.
    #[error(
        "the shaped file would have {event_count} events in {size} bytes; allowed is at most \
         {EVENT_COUNT_MAX} in {FILE_BYTES_MAX}, so shape fewer tracks or --bars at once"
    )]
    ShapeTooLarge {
        /// Its events.
        event_count: usize,
        /// Its bytes.
        size: usize,
    },
    /// The line goes on for longer than anyone plays.
    #[error("track {track}: the line lasts {hours:.1} hours; allowed is at most {hours_max}")]
    TooLong {
        /// The track, from 1.
        track: usize,
        /// How long the line is.
        hours: f64,
        /// The longest allowed.
        hours_max: u64,
    },
    /// `--bars` can't be read.
    #[error("--bars is `{given}`; allowed is A..B, A.. or ..B with bars from 1 and A not after B")]
    Bars {
        /// What was given.
        given: String,
    },
    /// `--bars` on film frames.
    #[error("--bars: this file counts film frames and has no bars")]
    NoBars,
    /// `--bars` after the end.
    #[error("--bars begins at bar {first}; the take ends in bar {last}")]
    BarsAfterEnd {
        /// The first bar asked for.
        first: u64,
        /// The last bar there is.
        last: u64,
    },
    /// A track that is not there, or has no notes.
    #[error("--track is {given}; tracks with notes are {with_notes}")]
    Track {
        /// The number given.
        given: usize,
        /// The numbers allowed.
        with_notes: String,
    },
    /// A channel that is not there, or has no notes.
    #[error("--channel is {given}; channels with notes are {with_notes}")]
    Channel {
        /// The number given.
        given: u8,
        /// The numbers allowed.
        with_notes: String,
    },
    /// Nothing to shape.
    #[error("the file has no notes")]
    NoNotes,
    /// Several lines and no gesture to tell which one is meant.
    #[error(
        "no track carries {gesture}, so choose a line with --track and --channel or another --source: {lines}"
    )]
    NoGesture {
        /// The source looked for.
        gesture: String,
        /// The lines there are, with the controllers they have.
        lines: String,
    },
    /// A line without the gesture that is asked for, where something else could be it.
    #[error("{place}: no {gesture}; there are {others}: --source {option}")]
    OtherSource {
        /// Track and channel.
        place: String,
        /// The source looked for.
        gesture: String,
        /// What moves there, with how many messages and where.
        others: String,
        /// The one that moves most, as `--source` takes it.
        option: String,
    },
    /// The file was shaped before.
    #[error("the file is shaped already ({marker}); peel it first, or --force peels it here")]
    Shaped {
        /// What its marker says.
        marker: String,
    },
    /// The file was shaped before and bars of it are to be shaped again.
    #[error("the file is shaped already; peel it before shaping some of its bars")]
    ShapedBars,
    /// Words in a take or beside it that cannot be read, or whose note is not there.
    #[error("{place}: {what}")]
    Words {
        /// Where it stands.
        place: String,
        /// What is wrong, and what is allowed.
        what: String,
    },
    /// More is asked of the notes than any player asks.
    #[error("{what} over all lines are more than {count_max}; shape fewer tracks at once")]
    TooMuchAsked {
        /// What is asked.
        what: &'static str,
        /// The most allowed.
        count_max: usize,
    },
    /// An instrument, a receiver or a hand that is not there or has faults.
    #[error(transparent)]
    Profile(#[from] LoadError),
    /// Files that do not go together.
    #[error(transparent)]
    Patch(#[from] PatchError),
    /// A table of wishes that cannot be read.
    #[error("{0}")]
    Wishes(String),
    /// Two files that cannot be laid side by side.
    #[error("the first file counts {first}, the second {second}; allowed is the same in both")]
    Clocks {
        /// What the first counts.
        first: String,
        /// What the second counts.
        second: String,
    },
    /// Two takes, or a shaped one and its settings, that do not go together.
    #[error("{why}")]
    Punch {
        /// What does not.
        why: String,
    },
    /// The take has lanes where the performance writes.
    #[error(
        "the take moves what the performance would write: {}; --replace takes that out (peel gives \
         it back), --keep leaves it and writes nothing of ours there",
        lanes.join("; ")
    )]
    Lanes {
        /// Each with its track, address and count.
        lanes: Vec<String>,
    },
    /// There is nothing to peel.
    #[error("this is no shaped file, or its record is gone and no take lies beside it")]
    NotShaped,
    /// The record is gone, and the take beside the file is not the one that was shaped.
    #[error(
        "its record is gone, and the take beside it is not the one that was shaped: {why}; nothing \
         is given back"
    )]
    OtherTake {
        /// How that is known.
        why: String,
    },
    /// The record is gone and with it what would tell edits from shaping.
    #[error(
        "its record is gone, and its notes were edited since it was shaped: {why}; the take beside \
         it is the one that was shaped, without those edits"
    )]
    TakeWithoutEdits {
        /// The first note that tells it.
        why: String,
    },
    /// A file without any mark, beside which lies a take that is not its own.
    #[error(
        "a take lies beside it, and it cannot be told whether the file was shaped from that one: \
         {why}; move the take away to shape the file as it stands"
    )]
    ForeignTake {
        /// What does not agree.
        why: String,
    },
}

impl Error {
    /// Something wrong outside the tracks.
    pub fn midi(byte: usize, what: impl Into<String>) -> Error {
        Error::Midi { byte, track: None, what: what.into() }
    }

    /// Something wrong inside a track (counted from 1).
    pub fn midi_track(track: usize, byte: usize, what: impl Into<String>) -> Error {
        Error::Midi { byte, track: Some(track), what: what.into() }
    }
}
