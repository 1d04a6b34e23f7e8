//! A file sorted into streams: all that goes to one address of one channel, in order of time.

use std::collections::BTreeMap;
use std::fmt;

use super::bend_range::BendRanges;
use super::timeline::{ScoreTime, Timeline};
use crate::engine::Message;
use crate::engine::input::message::BEND_CENTRE;
use crate::offline::midi::tempo_map::TEMPO;
use crate::offline::midi::{File, TrackEvent};
use crate::offline::record;

/// The meta event that ends a track, and all of it (SMF 1.0).
const END_OF_TRACK: u8 = 0x2F;
const END_OF_TRACK_BYTES: [u8; 3] = [0xFF, END_OF_TRACK, 0];

/// What a stream is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StreamKind {
    /// Note-ons and note-offs.
    Notes,
    /// Values of a controller.
    Controller(u8),
    /// The bend wheel.
    Bend,
    /// Pressure on the channel.
    ChannelPressure,
    /// Pressure on one key.
    PolyPressure(u8),
    /// Program changes.
    Program,
    /// Tempos.
    Tempo,
    /// Meta events of another kind.
    Meta(u8),
    /// System exclusive messages and raw bytes.
    System,
}

impl fmt::Display for StreamKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StreamKind::Notes => write!(f, "notes"),
            StreamKind::Controller(number) => write!(f, "cc {number}"),
            StreamKind::Bend => write!(f, "pitch bend"),
            StreamKind::ChannelPressure => write!(f, "channel pressure"),
            StreamKind::PolyPressure(key) => write!(f, "poly pressure {key}"),
            StreamKind::Program => write!(f, "program"),
            StreamKind::Tempo => write!(f, "tempo"),
            // The kinds of SMF 1.0.
            StreamKind::Meta(0x01..=0x07) => write!(f, "text"),
            StreamKind::Meta(END_OF_TRACK) => write!(f, "track end"),
            StreamKind::Meta(0x58) => write!(f, "time signature"),
            StreamKind::Meta(0x59) => write!(f, "key signature"),
            StreamKind::Meta(kind) => write!(f, "meta event {kind}"),
            StreamKind::System => write!(f, "system exclusive"),
        }
    }
}

/// Whose stream it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct StreamKey {
    /// The track, from 0; `None` where tracks cannot be paired.
    pub track: Option<usize>,
    /// 0..=15; `None` for what belongs to no channel.
    pub channel: Option<u8>,
    /// What.
    pub kind: StreamKind,
}

/// One event of a stream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StreamEvent<'a> {
    /// When.
    pub time: ScoreTime,
    /// All of it.
    pub bytes: &'a [u8],
    /// Its value in the stream's unit; 0 where only the bytes count.
    pub value: f64,
}

/// Both files' events of one stream.
pub type StreamPair<'a> = [Vec<StreamEvent<'a>>; 2];

/// All streams of both files.
#[derive(Default)]
pub struct Streams<'a> {
    /// By track, channel and kind.
    pub all: BTreeMap<StreamKey, StreamPair<'a>>,
}

impl<'a> Streams<'a> {
    /// Sorts the events of file `side` (0 or 1), and says how many there are.
    pub fn gather(
        &mut self,
        file: &'a File,
        side: usize,
        timeline: &Timeline,
        is_paired: bool,
    ) -> usize {
        let mut count = 0;
        let ranges = BendRanges::of(file);
        for (number, track) in file.tracks.iter().enumerate() {
            for event in track.events.iter().filter(|event| !is_ours(event)) {
                let (channel, kind, value) = sorted(event, &ranges);
                let key = StreamKey { track: is_paired.then_some(number), channel, kind };
                let time = timeline.time(event.tick, side);
                let bytes = &event.bytes;
                let event = StreamEvent { time, bytes, value };
                self.all.entry(key).or_default()[side].push(event);
                count += 1;
            }
            let key = StreamKey {
                track: is_paired.then_some(number),
                channel: None,
                kind: StreamKind::Meta(END_OF_TRACK),
            };
            let time = timeline.time(track.end_tick, side);
            let event = StreamEvent { time, bytes: &END_OF_TRACK_BYTES, value: 0.0 };
            self.all.entry(key).or_default()[side].push(event);
        }
        if !is_paired {
            for pair in self.all.values_mut() {
                pair[side].sort_by_key(|event| event.time); // stable: tracks in their order
            }
        }
        count
    }
}

fn sorted(event: &TrackEvent, ranges: &BendRanges) -> (Option<u8>, StreamKind, f64) {
    let bytes = &event.bytes;
    let Some(message) = event.message() else { return (None, unchannelled(bytes), tempo(bytes)) };
    let (kind, value) = match message {
        Message::NoteOn { .. } | Message::NoteOff { .. } => (StreamKind::Notes, 0.0),
        Message::Controller { number, value, .. } => (StreamKind::Controller(number), value.into()),
        Message::PitchBend { channel, value } => {
            let range_cents = 100.0 * ranges.semitones(channel, event.tick);
            let centre = f64::from(BEND_CENTRE);
            (StreamKind::Bend, (f64::from(value) / centre - 1.0) * range_cents)
        }
        Message::ChannelPressure { value, .. } => (StreamKind::ChannelPressure, value.into()),
        Message::PolyPressure { key, value, .. } => (StreamKind::PolyPressure(key), value.into()),
        Message::Program { .. } => (StreamKind::Program, 0.0),
    };
    (Some(message.channel()), kind, value)
}

fn unchannelled(bytes: &[u8]) -> StreamKind {
    match bytes {
        [0xFF, TEMPO, ..] => StreamKind::Tempo,
        [0xFF, kind, ..] => StreamKind::Meta(*kind),
        _ => StreamKind::System,
    }
}

/// Milliseconds of a quarter note; 0 for anything but a tempo.
fn tempo(bytes: &[u8]) -> f64 {
    match bytes {
        [0xFF, TEMPO, 3, high, middle, low] => {
            f64::from(u32::from_be_bytes([0, *high, *middle, *low])) / 1000.0
        }
        _ => 0.0,
    }
}

/// Whether an event is a record or a marker of ours.
fn is_ours(event: &TrackEvent) -> bool {
    record::ShapeRecord::of(event).is_some() || record::marker_text(event).is_some()
}
