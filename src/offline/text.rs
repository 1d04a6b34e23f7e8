//! Words in a take: the texts, markers and cue points that are for its lines.

use super::line::Line;
use super::midi::{File, Meter};
use crate::engine::event::Message;

/// The kinds of events that carry such words: text, marker, cue point (SMF 1.0). Lyrics are sung.
const KINDS: [u8; 3] = [0x01, 0x06, 0x07];

/// Words at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Text<'a> {
    /// Where.
    pub tick: u64,
    /// In which track, from 0.
    pub track: usize,
    /// The track, if it has notes: then the words are for its line, else for every line.
    pub own_track: Option<usize>,
    /// What.
    pub words: &'a str,
}

/// The words that are for the lines: those of their tracks, and of tracks without notes. The lines
/// stand in the order of their tracks.
pub fn texts<'a>(file: &'a File, lines: &[Line]) -> Vec<Text<'a>> {
    let mut texts = Vec::new();
    for (track, content) in file.tracks.iter().enumerate() {
        let is_on = |message| matches!(message, Message::NoteOn { .. });
        let has_notes = content.events.iter().filter_map(|event| event.message()).any(is_on);
        if has_notes && lines.binary_search_by_key(&track, |line| line.track).is_err() {
            continue;
        }
        let own_track = has_notes.then_some(track);
        texts.extend(content.events.iter().filter_map(|event| {
            let bytes = KINDS.iter().find_map(|kind| event.meta(*kind))?;
            let words = std::str::from_utf8(bytes).ok()?;
            Some(Text { tick: event.tick, track, own_track, words })
        }));
    }
    texts
}

/// Where words stand, as a sentence begins; `factor` is how much finer the ticks are than the
/// take's own.
pub fn place(track: usize, tick: u64, factor: u64) -> String {
    format!("track {}, tick {}", track + 1, tick / factor.max(1))
}

/// Bar and beat of a tick in words, `12.3`, or the take's own tick where there are no bars.
pub fn beat(meter: Option<&Meter>, tick: u64, factor: u64) -> String {
    match meter.map(|meter| meter.position(tick)) {
        Some((bar, beat)) => format!("{bar}.{beat}"),
        None => format!("tick {}", tick / factor.max(1)),
    }
}
