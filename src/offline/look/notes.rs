//! The notes of a line: how many, from where to where, and how they overlap.

use serde::Serialize;

use super::keyswitch::{KeyGroup, groups};
use super::note_span::{NoteSpan, struck};
use crate::profile::pitch::key_name;

/// Keys that begin within so many seconds begin together (DESIGN 4.2).
const CHORD_S: f64 = 0.035;
/// Two keys that begin together and lie no further apart are a grace, semitones (DESIGN 4.2).
const CHORD_SEMITONES_MIN: u8 = 3;

/// The notes of a line, without the keys that look like keyswitches.
#[derive(Clone, Debug, Serialize)]
pub struct LookedNotes {
    /// All notes of the line, the keyswitches too.
    pub all: usize,
    /// Without them; everything below is of these.
    pub notes: usize,
    /// The lowest key; 60 is C4.
    pub lowest_key: u8,
    /// Its name.
    pub lowest: String,
    /// The highest key.
    pub highest_key: u8,
    /// Its name.
    pub highest: String,
    /// The share that begins while another key is down, 0..=1.
    pub overlap_share: f64,
    /// The most keys down at once.
    pub voices: usize,
    /// How often several keys begin within 35 ms, three semitones or more apart.
    pub chords: usize,
    /// The most keys of one of these.
    pub chord_keys: usize,
    /// The first note begins here, seconds.
    pub from_s: f64,
    /// Notes that never end; they are taken to last to the end of the track.
    pub open_notes: usize,
    /// Keys that look like keyswitches.
    pub keyswitches: Vec<KeyGroup>,
    /// How often each key of the 128 is struck.
    #[serde(skip)]
    pub struck: Vec<usize>,
}

impl LookedNotes {
    /// Of the notes of a line; `None` without notes. Drums lie anywhere, and switch nothing.
    pub fn of(notes: &[NoteSpan], open_notes: usize, is_drums: bool) -> Option<LookedNotes> {
        let keyswitches = if is_drums { Vec::new() } else { groups(notes) };
        let is_music = |note: &&NoteSpan| {
            let is_in = |it: &KeyGroup| (it.lowest_key..=it.highest_key).contains(&note.key);
            !keyswitches.iter().any(is_in)
        };
        let music: Vec<NoteSpan> = notes.iter().filter(is_music).copied().collect();
        let (lowest_key, highest_key) =
            (music.iter().map(|note| note.key).min()?, music.iter().map(|note| note.key).max()?);
        let (overlaps, voices) = overlaps(&music);
        let (chords, chord_keys) = chords(&music);
        Some(LookedNotes {
            all: notes.len(),
            notes: music.len(),
            lowest_key,
            lowest: key_name(lowest_key),
            highest_key,
            highest: key_name(highest_key),
            overlap_share: overlaps as f64 / music.len() as f64,
            voices,
            chords,
            chord_keys,
            from_s: music.first().map_or(0.0, |note| note.on_s),
            open_notes,
            keyswitches,
            struck: struck(&music),
        })
    }
}

/// How many notes begin while another is down, and the most that are down at once.
fn overlaps(notes: &[NoteSpan]) -> (usize, usize) {
    let mut down: Vec<f64> = Vec::new();
    let (mut count, mut voices) = (0, 0);
    for note in notes {
        // An off at the very moment of an on comes first.
        down.retain(|end_s| *end_s > note.on_s);
        count += usize::from(!down.is_empty());
        down.push(note.on_s + note.length_s);
        voices = voices.max(down.len());
    }
    (count, voices)
}

/// How many chords there are, and the most keys of one. As the engine has it, a chord goes on while
/// each key comes within 35 ms of the one before.
fn chords(notes: &[NoteSpan]) -> (usize, usize) {
    let (mut count, mut most) = (0, 0);
    let mut together: Vec<NoteSpan> = Vec::new();
    for note in notes {
        let is_soon = together.last().is_some_and(|last| note.on_s - last.on_s <= CHORD_S);
        let is_apart = together.iter().all(|it| it.key.abs_diff(note.key) >= CHORD_SEMITONES_MIN);
        match (is_soon, is_apart) {
            (true, true) => together.push(*note),
            (true, false) => {}
            (false, _) => together = vec![*note],
        }
        if is_soon && is_apart {
            count += usize::from(together.len() == 2);
            most = most.max(together.len());
        }
    }
    (count, most)
}
