//! One line of a MIDI file as notes in seconds and ticks, as a listener would write it down.

use super::smf::File;

/// One note: when it was struck and released, in ticks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    pub on: u64,
    pub off: u64,
    pub key: u8,
}

/// The notes of one channel of one track in order of their beginning. Of a key struck twice the
/// first release ends the first note; what is never released ends with the track.
pub fn notes(file: &File, track: usize, channel: u8) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let mut end = 0;
    for event in &file.tracks[track] {
        end = event.tick;
        if event.channel_message().is_none_or(|(_, on)| on != channel) {
            continue;
        }
        if let Some(key) = event.strike() {
            open.push(notes.len());
            notes.push(Note { on: event.tick, off: u64::MAX, key });
        } else if let Some(key) = event.release()
            && let Some(place) = open.iter().position(|note| notes[*note].key == key)
        {
            notes[open.remove(place)].off = event.tick;
        }
    }
    for note in open {
        notes[note].off = end;
    }
    notes
}

/// A note of a shaped file that the take has not struck there: its key is down in the take, and
/// another note ends where it begins.
pub fn is_struck_again(note: &Note, played: &[Note], factor: u64) -> bool {
    let is_own = |it: &&Note| it.key == note.key;
    let mut own = played.iter().filter(is_own);
    own.clone().all(|it| it.on * factor != note.on)
        && own.any(|it| (it.on * factor..=it.off * factor).contains(&note.on))
        && played.iter().any(|it| it.key != note.key && it.off * factor == note.on)
}
