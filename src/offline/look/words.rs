//! The words in a file: names of tracks, wishes and articulations; and what no word of it tells.

use serde::Serialize;

use super::track::LookedTrack;
use crate::offline::midi::{File, MetreMap, Track};
use crate::offline::record::marker_text;
use crate::offline::take::{articulation, text, wish};

/// Meta events with the name of a track and of its instrument (SMF 1.0).
const TRACK_NAME: u8 = 0x03;
const INSTRUMENT_NAME: u8 = 0x04;

/// Words that are for a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookedText {
    /// `wish` or `articulation`.
    pub kind: &'static str,
    /// The track, from 1.
    pub track: usize,
    /// Bar and beat, `12.3`, or the tick where there are no bars.
    pub beat: String,
    /// As they stand there.
    pub words: String,
}

/// The names of a track and of its instrument.
pub fn names(track: &Track) -> (Option<String>, Option<String>) {
    let name = |kind| {
        let bytes = track.events.iter().find_map(|event| event.meta(kind))?;
        let name = printable(&String::from_utf8_lossy(bytes)).trim().to_owned();
        (!name.is_empty()).then_some(name)
    };
    (name(TRACK_NAME), name(INSTRUMENT_NAME))
}

/// The wishes and articulations of a file, and how many other texts it has.
pub fn texts(file: &File, metre: Option<&MetreMap>) -> (Vec<LookedText>, usize) {
    let mut texts = Vec::new();
    let mut others = 0;
    for (number, track) in file.tracks.iter().enumerate() {
        for event in track.events.iter().filter(|event| marker_text(event).is_none()) {
            let Some(words) = text::words(event) else { continue };
            let Some(kind) = kind(words) else {
                others += 1;
                continue;
            };
            let beat = text::beat(metre, event.tick, 1);
            texts.push(LookedText { kind, track: number + 1, beat, words: printable(words) });
        }
    }
    (texts, others)
}

fn kind(words: &str) -> Option<&'static str> {
    let is_wish = !matches!(wish::read_text(words, &[]), Ok(None));
    match (is_wish, articulation::asked(words)) {
        (true, _) => Some("wish"),
        (false, Some(_)) => Some("articulation"),
        (false, None) => None,
    }
}

/// A name may hold anything, also what would move a terminal's cursor.
fn printable(text: &str) -> String {
    text.chars().map(|each| if each.is_control() { ' ' } else { each }).collect()
}

/// What the file does not tell of what is in it.
pub fn cannot_tell(tracks: &[LookedTrack]) -> Vec<String> {
    let parts = || tracks.iter().flat_map(|track| &track.parts);
    let lanes = || parts().flat_map(|part| &part.lanes);
    let mut sentences = Vec::new();
    let mut say = |is_so: bool, sentence: &str| {
        if is_so {
            sentences.push(sentence.to_owned());
        }
    };
    say(
        lanes().any(|lane| lane.is_hand()),
        "whether a controller was moved by hand or drawn, and what a receiver makes of it",
    );
    say(
        parts().any(|part| part.programs.iter().any(|program| program.name.is_some())),
        "whether the receiver has General MIDI's sound under a program",
    );
    say(
        parts().filter_map(|part| part.notes.as_ref()).any(|it| !it.keyswitches.is_empty()),
        "whether keys that look like keyswitches are some: only their receiver knows",
    );
    say(
        parts().filter_map(|part| part.notes.as_ref()).any(|it| it.chords > 0),
        "whether several keys at once are one player or several",
    );
    sentences
}
