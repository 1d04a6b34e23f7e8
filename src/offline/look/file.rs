//! Looks through a whole file: its tracks, what each channel of them plays and sends, its words.

use serde::Serialize;

use super::instrument::InstrumentRanges;
use super::next_command::{self, NextCommand};
use super::shaped::ShapedBy;
use super::song::SongOutline;
use super::track::{LookedTrack, parts};
use super::words::{self, LookedText};
use crate::offline::error::Error;
use crate::offline::midi::{MetreMap, TempoMap, Track, read};
use crate::offline::take::Request;

/// The target whose lanes a file's are compared with.
const TARGET: &str = "generic";
/// Any instrument will do to know to which addresses that target sends.
const ANY_INSTRUMENT: &str = "erhu";

/// What is in a file. Tracks, channels and bars count from 1.
#[derive(Clone, Debug, Serialize)]
pub struct Look {
    /// Length, tempo and metre.
    pub song: SongOutline,
    /// The tracks, in order.
    pub tracks: Vec<LookedTrack>,
    /// The texts that are wishes or name articulations, in order of tracks.
    pub texts: Vec<LookedText>,
    /// Texts, markers and cue points that are neither.
    pub other_texts: usize,
    /// System exclusive messages.
    pub sysex: usize,
    /// By what it was shaped; `None` if it was not.
    pub shaped: Option<ShapedBy>,
    /// What the file does not tell, one sentence each.
    pub cannot_tell: Vec<String>,
    /// What comes next.
    pub next: NextCommand,
}

/// Looks through the file in `bytes`.
///
/// # Errors
/// Any [`Error`] of reading it.
pub fn look_bytes(bytes: &[u8]) -> Result<Look, Error> {
    let file = read::read(bytes)?;
    let target = Request::new(ANY_INSTRUMENT, TARGET).settings()?.patch.target;
    let clock = TempoMap::of(&file);
    let metre = MetreMap::of(&file);
    let ranges = InstrumentRanges::load();
    let track = |(number, track): (usize, &Track)| {
        let (name, instrument_name) = words::names(track);
        let titles = [&name, &instrument_name];
        let titles: Vec<&str> = titles.into_iter().flatten().map(String::as_str).collect();
        let parts = parts(track, &clock, &target, |part| {
            part.instrument = part
                .notes
                .as_ref()
                .filter(|_| !part.is_drum_channel)
                .map(|notes| ranges.tell(&titles, &part.programs, notes));
        });
        LookedTrack { track: number + 1, name, instrument_name, parts }
    };
    let mut tracks: Vec<LookedTrack> = file.tracks.iter().enumerate().map(track).collect();
    let (texts, other_texts) = words::texts(&file, metre.as_ref());
    let is_sysex = |status: u8| matches!(status, 0xF0 | 0xF7);
    let events = file.tracks.iter().flat_map(|track| &track.events);
    let shaped = ShapedBy::of(&file);
    if shaped.is_some() {
        // What stands there is what was sent, not what would be written over.
        let lanes =
            tracks.iter_mut().flat_map(|track| &mut track.parts).flat_map(|it| &mut it.lanes);
        lanes.for_each(|lane| lane.is_written_over = false);
    }
    let next = match &shaped {
        Some(_) => NextCommand::peel(),
        None => next_command::shape(bytes, &file, &tracks),
    };
    Ok(Look {
        song: SongOutline::of(&file, &clock, metre.as_ref()),
        sysex: events.filter(|event| is_sysex(event.bytes[0])).count(),
        cannot_tell: words::cannot_tell(&tracks),
        tracks,
        texts,
        other_texts,
        shaped,
        next,
    })
}
