//! Words in a take: the texts, markers and cue points that are for its lines.

use super::line::TakeLine;
use crate::engine::Message;
use crate::offline::midi::{File, MetreMap, TrackEvent};

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
pub fn texts<'a>(file: &'a File, lines: &[TakeLine]) -> Vec<Text<'a>> {
    let mut texts = Vec::new();
    for (track, content) in file.tracks.iter().enumerate() {
        let is_on = |message| matches!(message, Message::NoteOn { .. });
        let has_notes = content.events.iter().filter_map(|event| event.message()).any(is_on);
        if has_notes && lines.binary_search_by_key(&track, |line| line.track).is_err() {
            continue;
        }
        let own_track = has_notes.then_some(track);
        let text = |event| Some((event, words(event)?));
        texts.extend(content.events.iter().filter_map(text).map(|(event, words)| Text {
            tick: event.tick,
            track,
            own_track,
            words,
        }));
    }
    texts
}

/// The words of an event that carries some.
pub fn words(event: &TrackEvent) -> Option<&str> {
    std::str::from_utf8(KINDS.iter().find_map(|kind| event.meta(*kind))?).ok()
}

/// Where words stand, as a sentence begins; `factor` is how much finer the ticks are than the
/// take's own.
pub fn place(track: usize, tick: u64, factor: u64) -> String {
    format!("track {}, tick {}", track + 1, tick / factor.max(1))
}

/// Bar and beat of a tick in words, `12.3`, or the take's own tick where there are no bars.
pub fn beat(metre: Option<&MetreMap>, tick: u64, factor: u64) -> String {
    match metre.map(|metre| metre.position(tick)) {
        Some((bar, beat)) => format!("{bar}.{beat}"),
        None => format!("tick {}", tick / factor.max(1)),
    }
}
