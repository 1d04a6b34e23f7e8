//! Leaps that the hand has no time for.

use super::finding::{AuditRule, RuleHit, Severity};
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::pitch::key_name;

/// A wider leap needs time (DESIGN 9).
pub const LEAP_SEMITONES: u8 = 12;
/// This much of it.
pub const LEAP_S: f64 = 0.12;
/// Times that differ by less are equal.
const NEAR_S: f64 = 1e-9;

pub(super) fn look(notes: &[PerformedNote], instrument: &Instrument) -> Vec<RuleHit> {
    if instrument.strings.is_none() {
        return Vec::new();
    }
    let found = notes.iter().enumerate().filter_map(|(place, note)| {
        let before = note.before?;
        let semitones = before.key.abs_diff(note.key);
        let is_hard = semitones > LEAP_SEMITONES && before.ioi_s < LEAP_S - NEAR_S;
        is_hard.then(|| RuleHit {
            rule: AuditRule::Leap,
            note: place,
            at_s: note.start_s,
            severity: Severity::Hard,
            sentence: format!(
                "The leap from {} to {}, {semitones} semitones, has only {:.0} ms.",
                key_name(before.key),
                key_name(note.key),
                before.ioi_s * 1000.0
            ),
            suggestion: format!(
                "Give it {:.0} ms, or move one note by an octave.",
                LEAP_S * 1000.0
            ),
        })
    });
    found.collect()
}
