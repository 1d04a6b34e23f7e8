//! Notes that the instrument does not have, or has only at its edge.

use super::finding::{AuditRule, RuleHit, Severity, confidence};
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::pitch::key_name;

/// Octaves are what a line is moved by.
const OCTAVE: u8 = 12;

/// `first` is the number of the first of these notes.
pub(super) fn look(notes: &[PerformedNote], first: usize, instrument: &Instrument) -> Vec<RuleHit> {
    let hard = instrument.range.hard_keys;
    let comfortable = instrument.range.comfortable_keys;
    let look = |(note, key, at_s): (usize, u8, f64)| {
        let (severity, limits, path, whose) = if !holds(hard, key) {
            (Severity::Impossible, hard, "range.hard_keys", "the instrument")
        } else if !holds(comfortable, key) {
            (Severity::Hard, comfortable, "range.comfortable_keys", "the comfortable range")
        } else {
            return None;
        };
        let (side, limit) = match key < limits.0 {
            true => ("below the lowest", limits.0),
            false => ("above the highest", limits.1),
        };
        let sentence = format!(
            "{} lies {side} note of {whose}, {} {}.",
            key_name(key),
            key_name(limit),
            confidence(instrument, &[path])
        );
        let suggestion = suggestion(key, comfortable);
        Some(RuleHit { rule: AuditRule::Range, note, at_s, severity, sentence, suggestion })
    };
    let numbered = (first..).zip(notes);
    numbered.map(|(place, note)| (place, note.key, note.start_s)).filter_map(look).collect()
}

fn holds(limits: (u8, u8), key: u8) -> bool {
    (limits.0..=limits.1).contains(&key)
}

fn suggestion(key: u8, comfortable: (u8, u8)) -> String {
    let moved = match key < comfortable.0 {
        true => (1..=10)
            .map(|octaves| key.saturating_add(octaves * OCTAVE))
            .find(|it| holds(comfortable, *it)),
        false => (1..=10)
            .map(|octaves| key.saturating_sub(octaves * OCTAVE))
            .find(|it| holds(comfortable, *it)),
    };
    match moved {
        Some(moved) => {
            format!("{} is the same note where the instrument is at ease.", key_name(moved))
        }
        None => "Give the note to another instrument.".to_owned(),
    }
}
