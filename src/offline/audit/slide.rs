//! Slides that no hand can make: over strings, from an open one, too far for the time, too wide.

use super::finding::{AuditRule, RuleHit, Severity, confidence};
use crate::engine::Mode;
use crate::engine::patch::OpenPolicy;
use crate::engine::reason::Reason;
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::instrument::StringsTable;
use crate::profile::pitch::key_name;

/// A hand that moves faster than this has to be lucky (DESIGN 9).
pub const HARD_M_PER_S: f64 = 1.2;
/// And faster than this no hand moves.
pub const IMPOSSIBLE_M_PER_S: f64 = 2.0;
/// Speeds that differ by less are equal.
const NEAR_M_PER_S: f64 = 1e-9;

pub(super) fn look(notes: &[PerformedNote], instrument: &Instrument) -> Vec<RuleHit> {
    let slides = notes.iter().enumerate().filter(|(_, note)| asks_slide(note));
    let found = slides.filter_map(|(place, note)| {
        let (severity, sentence) = problem(note, instrument)?;
        let suggestion = format!(
            "Keep the gesture below {:.2} here, so that the notes join without a slide.",
            instrument.legato.edges[2]
        );
        Some(RuleHit {
            rule: AuditRule::Slide,
            note: place,
            at_s: note.start_s,
            severity,
            sentence,
            suggestion,
        })
    });
    found.collect()
}

/// The gesture asked for a slide, whether it was performed or a slow join in its place.
fn asks_slide(note: &PerformedNote) -> bool {
    note.mode == Mode::Slide || is_refusal(note.reason)
}

/// A slide was asked for and a slow join performed in its place.
pub fn is_refusal(reason: Reason) -> bool {
    let refusals = [Reason::TooWide, Reason::NoCommonString, Reason::OpenEnd, Reason::HandTooFast];
    refusals.contains(&reason)
}

fn problem(note: &PerformedNote, instrument: &Instrument) -> Option<(Severity, String)> {
    let before = note.before?;
    let slide = format!("The slide from {} to {}", key_name(before.key), key_name(note.key));
    let Some(strings) = &instrument.strings else {
        let widest = instrument.legato.slide_max_semitones;
        let trust = confidence(instrument, &["legato.slide_max_semitones"]);
        let sentence = format!(
            "{slide} is wider than {widest} semitones, the most this instrument slides {trust}."
        );
        return (before.key.abs_diff(note.key) > widest)
            .then_some((Severity::Impossible, sentence));
    };
    if let Some(open) =
        [before.key, note.key].iter().find(|it| strings.forced_open_keys.contains(it))
    {
        let trust = confidence(instrument, &["strings.forced_open_keys"]);
        let sentence = format!(
            "{slide} has an open end: {} only sounds on the open string, where no finger is {trust}.",
            key_name(*open)
        );
        return Some((Severity::Impossible, sentence));
    }
    let Some(travel_m) = travel_m(strings, before.key, note.key) else {
        let trust = confidence(instrument, &["strings.open_keys", "strings.span_semitones"]);
        return Some((
            Severity::Impossible,
            format!("{slide} has no string that carries both notes {trust}."),
        ));
    };
    let speed = travel_m / before.ioi_s.min(instrument.legato.slide_ms / 1000.0);
    let severity = if speed > IMPOSSIBLE_M_PER_S + NEAR_M_PER_S {
        Severity::Impossible
    } else if speed > HARD_M_PER_S + NEAR_M_PER_S {
        Severity::Hard
    } else {
        return None;
    };
    let trust = confidence(instrument, &["strings.length_m", "legato.slide_ms"]);
    Some((severity, format!("{slide} moves the hand at {speed:.2} m/s {trust}.")))
}

/// The shortest way of the hand on one string, metres; none if no string carries both notes.
/// Where the instrument lets open strings ring, an open pitch may be an end.
fn travel_m(strings: &StringsTable, from: u8, to: u8) -> Option<f64> {
    let lowest = u8::from(strings.open_policy == OpenPolicy::Stopped);
    let each = strings.open_keys.iter().zip(&strings.span_semitones);
    let ways = each.filter_map(|(open, span)| {
        let height = |key: u8| key.checked_sub(*open).filter(|it| (lowest..=*span).contains(it));
        let place = |semitones: u8| strings.length_m * libm::exp2(-f64::from(semitones) / 12.0);
        Some((place(height(from)?) - place(height(to)?)).abs())
    });
    ways.reduce(f64::min)
}
