//! Bow strokes that are longer than the bow, and phrases that are longer than the breath.

use super::budget::{BudgetSpan, NEAR};
use super::finding::{AuditRule, RuleHit, Severity, confidence};
use crate::profile::Instrument;
use crate::profile::instrument::Budget;

/// More than the whole is hard, more than this is impossible (DESIGN 9).
pub const IMPOSSIBLE: f64 = 1.5;

pub(super) fn look(spans: &[BudgetSpan], instrument: &Instrument) -> Vec<RuleHit> {
    spans.iter().filter_map(|span| hit(span, instrument)).collect()
}

fn hit(span: &BudgetSpan, instrument: &Instrument) -> Option<RuleHit> {
    let (at_s, note) = span.empty?;
    let is_impossible = span.spent > IMPOSSIBLE + NEAR;
    let by_length = if is_impossible { Severity::Impossible } else { Severity::Hard };
    let (times, length_s) = (span.spent, span.end_s - span.start_s);
    let (rule, severity, sentence, suggestion) = match instrument.budget {
        Budget::Bow { .. } => {
            let trust = confidence(instrument, &["bow.pp_s", "bow.ff_s"]);
            let sentence = format!(
                "This bow stroke goes on for {length_s:.1} s, {times:.2} times what a bow lasts at this loudness {trust}."
            );
            let suggestion = match span.first_note == span.last_note {
                true => {
                    "Shorten the note, play it softer, or ask for a bow change that nobody hears."
                }
                false => "Detach one of its notes, so that the bow can turn there, or play softer.",
            };
            (AuditRule::Bow, by_length, sentence, suggestion)
        }
        Budget::Breath { is_circular, .. } => {
            let trust = confidence(instrument, &["breath.pp_s", "breath.ff_s"]);
            let sentence = format!(
                "The breath runs out here: until the next one, {times:.2} times a whole breath is needed {trust}."
            );
            match is_circular {
                true => {
                    let sentence =
                        format!("{sentence} The player has to breathe in while playing on.");
                    let suggestion =
                        "Leave a gap for a breath, unless circular breathing is wanted.";
                    (AuditRule::Breath, Severity::Unidiomatic, sentence, suggestion)
                }
                false => {
                    let suggestion = "Leave a gap for a breath before this, or play softer.";
                    (AuditRule::Breath, by_length, sentence, suggestion)
                }
            }
        }
    };
    let suggestion = suggestion.to_owned();
    Some(RuleHit { rule, note, at_s, severity, sentence, suggestion })
}
