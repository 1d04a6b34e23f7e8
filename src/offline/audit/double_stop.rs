//! Notes that sound at once: each needs a string of its own, side by side, within one hand's reach.

use super::finding::{AuditRule, RuleHit, Severity, confidence};
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::instrument::StringsTable;
use crate::profile::pitch::key_name;

/// The widest stretch of one hand over two strings, semitones between stopped places (DESIGN 9).
pub const REACH_SEMITONES: u8 = 8;

pub(super) fn look(notes: &[PerformedNote], instrument: &Instrument) -> Vec<RuleHit> {
    let mut found = Vec::new();
    for (first, _) in notes.iter().enumerate().filter(|(_, note)| !note.is_in_chord) {
        let rest = &notes[first + 1..];
        let last = first + rest.iter().take_while(|note| note.is_in_chord).count();
        let together = together(&notes[first..=last]);
        if together.len() < 2 {
            continue;
        }
        if let Some((sentence, suggestion)) = problem(&together, instrument) {
            found.push(RuleHit {
                rule: AuditRule::DoubleStop,
                note: first,
                at_s: notes[first].start_s,
                severity: Severity::Impossible,
                sentence,
                suggestion: suggestion.to_owned(),
            });
        }
    }
    found
}

/// The different keys of a chord that still sound when its last note begins.
fn together(chord: &[PerformedNote]) -> Vec<u8> {
    let last_s = chord.last().map_or(0.0, |note| note.start_s);
    let mut keys: Vec<u8> =
        chord.iter().filter(|note| note.end_s > last_s).map(|note| note.key).collect();
    keys.sort_unstable();
    keys.dedup();
    keys
}

fn problem(keys: &[u8], instrument: &Instrument) -> Option<(String, &'static str)> {
    let names = keys.iter().map(|key| key_name(*key)).collect::<Vec<_>>().join(" and ");
    if keys.len() > usize::from(instrument.voice_count) {
        let trust = confidence(instrument, &["voices"]);
        let most = match instrument.voice_count {
            1 => "one note".to_owned(),
            most => format!("{most} notes"),
        };
        let sentence =
            format!("{names} sound together; the instrument sounds {most} at a time {trust}.");
        return Some((sentence, "Keep one note, or give the other to a second player."));
    }
    let strings = instrument.strings.as_ref()?;
    let trust = confidence(instrument, &["strings.open_keys", "strings.span_semitones"]);
    match narrowest_reach(strings, keys) {
        None => {
            let sentence =
                format!("{names} have no neighbouring strings to sound on together {trust}.");
            Some((sentence, "Move one of them by an octave, or break the chord."))
        }
        Some(reach) if reach > REACH_SEMITONES => {
            let sentence = format!(
                "{names} need a hand that reaches over {reach} semitones; it spans {REACH_SEMITONES} {trust}."
            );
            Some((sentence, "Put one of them on an open string, or break the chord."))
        }
        Some(_) => None,
    }
}

/// The narrowest reach that stops these rising keys on neighbouring strings, one each: semitones
/// from the lowest stopped place to the highest. Open strings need no finger.
fn narrowest_reach(strings: &StringsTable, keys: &[u8]) -> Option<u8> {
    let all: Vec<(u8, u8)> =
        strings.open_keys.iter().copied().zip(strings.span_semitones.iter().copied()).collect();
    let mut best: Option<u8> = None;
    for neighbours in all.windows(keys.len()) {
        for order in orders(keys) {
            let heights = order
                .iter()
                .zip(neighbours)
                .map(|(key, (open, span))| key.checked_sub(*open).filter(|height| height <= span));
            let Some(heights) = heights.collect::<Option<Vec<u8>>>() else { continue };
            let stopped = || heights.iter().filter(|height| **height > 0);
            let reach = stopped().max().unwrap_or(&0) - stopped().min().unwrap_or(&0);
            best = Some(best.map_or(reach, |best| best.min(reach)));
        }
    }
    best
}

/// Every order of a few keys: a high note may be on a lower string.
fn orders(keys: &[u8]) -> Vec<Vec<u8>> {
    if keys.len() <= 1 {
        return vec![keys.to_vec()];
    }
    let mut all = Vec::new();
    for place in 0..keys.len() {
        let mut rest = keys.to_vec();
        let first = rest.remove(place);
        all.extend(orders(&rest).into_iter().map(|mut order| {
            order.insert(0, first);
            order
        }));
    }
    all
}
