//! Keys that look like keyswitches: few, far from the music, and too short or too long to be of it.
//!
//! The rule: a group of keys at the bottom or at the top of a line, an octave or more away from the
//! next key that is used, with at most a fifth of the notes, of which half or more are shorter than
//! 0.15 s or are held while other notes begin. Common practice, no source: a line leaps by more than
//! an octave so seldom that a whole group beyond one is a message. A single low note that lasts is
//! none.

use serde::Serialize;

use super::lane::median;
use super::note_span::{NoteSpan, struck};
use crate::engine::input::message::KEY_COUNT;
use crate::profile::pitch::key_name;

/// How far the group lies from the next key, semitones.
const GAP_SEMITONES_MIN: u8 = 12;
/// The largest share of a line's notes.
const SHARE_MAX: f64 = 0.2;
/// A note that is shorter is a signal, seconds.
const SHORT_S: f64 = 0.15;

/// Keys that could be keyswitches.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KeyGroup {
    /// The lowest of them.
    pub lowest_key: u8,
    /// Its name; 60 is C4.
    pub lowest: String,
    /// The highest.
    pub highest_key: u8,
    /// Its name.
    pub highest: String,
    /// How many different keys.
    pub keys: usize,
    /// How many notes.
    pub notes: usize,
    /// How far they lie from the next key of the music, semitones.
    pub gap_semitones: u8,
    /// The median of their lengths, seconds.
    pub length_s: f64,
    /// How many are held while other notes begin.
    pub held: usize,
}

/// The groups of a line, the lower one first.
pub fn groups(notes: &[NoteSpan]) -> Vec<KeyGroup> {
    let counts = struck(notes);
    let used: Vec<u8> = (0..KEY_COUNT as u8).filter(|key| counts[usize::from(*key)] > 0).collect();
    let few_max = (SHARE_MAX * notes.len() as f64) as usize;
    let below = outlying(used.iter().copied(), &counts, few_max);
    let above = outlying(used.iter().rev().copied(), &counts, few_max);
    let groups = [below, above].into_iter().flatten();
    groups.filter_map(|(first, last, gap)| group(notes, (first, last), gap)).collect()
}

/// From one end of the keys to the last gap before which there are few notes: the outermost key, the
/// innermost one, the gap.
fn outlying(
    keys: impl Iterator<Item = u8> + Clone,
    counts: &[usize],
    few_max: usize,
) -> Option<(u8, u8, u8)> {
    let outermost = keys.clone().next()?;
    let mut sum = 0;
    let mut found = None;
    for (key, next) in keys.clone().zip(keys.skip(1)) {
        sum += counts[usize::from(key)];
        if sum > few_max {
            break;
        }
        let gap = key.abs_diff(next);
        if gap >= GAP_SEMITONES_MIN {
            found = Some((outermost, key, gap));
        }
    }
    found
}

/// The group, if its notes are short or held.
fn group(notes: &[NoteSpan], ends: (u8, u8), gap_semitones: u8) -> Option<KeyGroup> {
    let (lowest_key, highest_key) = (ends.0.min(ends.1), ends.0.max(ends.1));
    let own = notes.iter().filter(|note| (lowest_key..=highest_key).contains(&note.key));
    let own: Vec<&NoteSpan> = own.collect();
    let signals = own.iter().filter(|note| note.length_s < SHORT_S || note.is_held_under).count();
    if 2 * signals < own.len() {
        return None;
    }
    let mut keys: Vec<u8> = own.iter().map(|note| note.key).collect();
    keys.sort_unstable();
    keys.dedup();
    Some(KeyGroup {
        lowest_key,
        lowest: key_name(lowest_key),
        highest_key,
        highest: key_name(highest_key),
        keys: keys.len(),
        notes: own.len(),
        gap_semitones,
        length_s: median(own.iter().map(|note| note.length_s).collect())?,
        held: own.iter().filter(|note| note.is_held_under).count(),
    })
}
