//! One thing that a live player could not play, or not well: where, how bad, why, and what to do.

use serde::Serialize;

use crate::profile::{Instrument, origin};

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Playable, but not in the nature of the instrument.
    Unidiomatic,
    /// A good player may manage.
    Hard,
    /// Nobody can.
    Impossible,
}

impl Severity {
    /// The word in the report.
    pub const fn name(self) -> &'static str {
        match self {
            Severity::Unidiomatic => "unidiomatic",
            Severity::Hard => "hard",
            Severity::Impossible => "impossible",
        }
    }
}

/// Which rule speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AuditRule {
    /// The note lies outside the instrument, or its comfortable part.
    Range,
    /// Vibrato on a note that only sounds open.
    OpenVibrato,
    /// A stroke longer than the bow.
    Bow,
    /// A phrase longer than the breath.
    Breath,
    /// A slide that no hand can make.
    Slide,
    /// A wide leap in no time.
    Leap,
    /// Two notes at once.
    DoubleStop,
}

impl AuditRule {
    /// The stable name in the report.
    pub const fn name(self) -> &'static str {
        match self {
            AuditRule::Range => "range",
            AuditRule::OpenVibrato => "open-vibrato",
            AuditRule::Bow => "bow",
            AuditRule::Breath => "breath",
            AuditRule::Slide => "slide",
            AuditRule::Leap => "leap",
            AuditRule::DoubleStop => "double-stop",
        }
    }
}

/// What a rule found, by note and time; where in the file that is comes later.
#[derive(Clone, Debug, PartialEq)]
pub struct RuleHit {
    /// Which rule speaks.
    pub rule: AuditRule,
    /// Which note of the part; another player's are counted on from its last.
    pub note: usize,
    /// When, seconds since the start of the file.
    pub at_s: f64,
    /// How bad it is.
    pub severity: Severity,
    /// What is the matter, one sentence.
    pub sentence: String,
    /// What to do, one sentence.
    pub suggestion: String,
}

/// What a rule found, at its place in the file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AuditFinding {
    /// Which rule speaks.
    pub rule: AuditRule,
    /// The bar, from 1; none where the file counts film frames.
    pub bar: Option<u64>,
    /// The beat, from 1.
    pub beat: Option<u64>,
    /// The tick in the user's own file.
    pub tick: u64,
    /// The MIDI key of the note.
    pub key: u8,
    /// How bad it is.
    pub severity: Severity,
    /// What is the matter, one sentence.
    pub sentence: String,
    /// What to do, one sentence.
    pub suggestion: String,
}

/// How far the instrument's numbers at `paths` can be trusted, in brackets: the least of them.
pub(super) fn confidence(instrument: &Instrument, paths: &[&str]) -> String {
    let known = paths.iter().map(|path| origin::of(&instrument.origins, path));
    match known.map(|origin| origin.map(|it| it.confidence)).collect::<Option<Vec<_>>>() {
        Some(all) => {
            let least = all.into_iter().max().map_or("no stated", |least| least.word());
            format!("({least} confidence)")
        }
        None => "(no stated confidence)".to_owned(),
    }
}
