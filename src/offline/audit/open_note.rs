//! Vibrato that is asked for on a note which only an open string has: it will sound plain.

use super::finding::{AuditRule, RuleHit, Severity, confidence};
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::pitch::key_name;

/// A narrower vibrato is not heard as one: about the smallest step of pitch that people hear.
pub const ASKED_CENTS_MIN: f64 = 5.0;

pub(super) fn look(notes: &[PerformedNote], instrument: &Instrument) -> Vec<RuleHit> {
    let Some(strings) = &instrument.strings else { return Vec::new() };
    let asks = |note: &PerformedNote| {
        strings.forced_open_keys.contains(&note.key) && note.asked_cents >= ASKED_CENTS_MIN
    };
    let found = notes.iter().enumerate().filter(|(_, note)| asks(note)).map(|(place, note)| {
        let sentence = format!(
            "{:.0} cents of vibrato are asked for on {}, which only sounds on the open string {}.",
            note.asked_cents,
            key_name(note.key),
            confidence(instrument, &["strings.forced_open_keys"])
        );
        RuleHit {
            rule: AuditRule::OpenVibrato,
            note: place,
            at_s: note.start_s,
            severity: Severity::Unidiomatic,
            sentence,
            suggestion: "Let it sound plain, with the gesture low, or take another note."
                .to_owned(),
        }
    });
    found.collect()
}
