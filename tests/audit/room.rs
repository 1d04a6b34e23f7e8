//! Takes written in milliseconds, and what the audit says of them in a few words.

use polso::engine::patch::Source;
use polso::offline::audit::{AuditFinding, audit_bytes};
use polso::offline::{Bars, Provenance, Settings};
use polso::profile::{self, Instrument};

pub use crate::written::{Struck, take};

/// A shipped instrument.
pub fn instrument(name: &str) -> Instrument {
    profile::load::<Instrument>(name).expect("a shipped instrument").profile
}

/// The settings of a wheel that plays `instrument` through the generic receiver.
pub fn settings(instrument: &Instrument) -> Settings {
    let target = profile::load("generic").expect("a shipped target").profile;
    let hand = profile::hand_for(Source::Controller(1)).expect("a hand").profile;
    Settings {
        patch: profile::patch(instrument, &target, &hand, 1, 1.0).expect("a patch"),
        styles: instrument.vibrato.styles.iter().map(|style| style.name.clone()).collect(),
        provenance: Provenance::default(),
        imperfection: 1.0,
        tracks: Vec::new(),
        channels: Vec::new(),
        bars: None,
        wishes: Default::default(),
        is_forced: false,
    }
}

/// The findings of a take.
pub fn findings(instrument: &Instrument, take: &[u8], bars: Option<Bars>) -> Vec<AuditFinding> {
    let settings = Settings { bars, ..settings(instrument) };
    audit_bytes(take, &settings, instrument).expect("a take").findings
}

/// AuditRule, severity and key of each finding: "bow hard 69, slide impossible 62".
pub fn said(findings: &[AuditFinding]) -> String {
    let each =
        findings.iter().map(|it| format!("{} {} {}", it.rule.name(), it.severity.name(), it.key));
    each.collect::<Vec<_>>().join(", ")
}

/// The same for a take in milliseconds.
pub fn hears(name: &str, notes: &[Struck], wheel: &[(u64, u8)]) -> String {
    said(&findings(&instrument(name), &take(notes, wheel), None))
}
