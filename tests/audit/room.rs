//! Takes written in milliseconds, and what the audit says of them in a few words.

use polso::engine::patch::Source;
use polso::offline::audit::{Finding, audit_bytes};
use polso::offline::{Bars, Provenance, Settings};
use polso::profile::{self, Instrument};

/// Ticks of a quarter note: at 120 a minute a tick is a millisecond.
pub const PPQ: u16 = 500;

/// A note: key, on and off in milliseconds.
pub type Struck = (u8, u64, u64);

/// A take of format 0 on channel 1; the wheel is pairs of milliseconds and values.
pub fn take(notes: &[Struck], wheel: &[(u64, u8)]) -> Vec<u8> {
    let mut events: Vec<(u64, u8, [u8; 3])> = Vec::new();
    for &(key, on, off) in notes {
        events.push((on, 2, [0x90, key, 64]));
        events.push((off, 0, [0x80, key, 64]));
    }
    events.extend(wheel.iter().map(|&(at, value)| (at, 1, [0xB0, 1, value])));
    events.sort_by_key(|(at, rank, _)| (*at, *rank));
    let mut track = Vec::new();
    let mut now = 0;
    for (at, _, bytes) in events {
        polso::offline::midi::quantity::write(at - now, &mut track);
        track.extend(bytes);
        now = at;
    }
    track.extend([0, 0xFF, 0x2F, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01".to_vec();
    file.extend(PPQ.to_be_bytes());
    file.extend(b"MTrk");
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

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
        bars: None,
        is_forced: false,
    }
}

/// The findings of a take.
pub fn findings(instrument: &Instrument, take: &[u8], bars: Option<Bars>) -> Vec<Finding> {
    let settings = Settings { bars, ..settings(instrument) };
    audit_bytes(take, &settings, instrument).expect("a take").findings
}

/// Rule, severity and key of each finding: "bow hard 69, slide impossible 62".
pub fn said(findings: &[Finding]) -> String {
    let each =
        findings.iter().map(|it| format!("{} {} {}", it.rule.name(), it.severity.name(), it.key));
    each.collect::<Vec<_>>().join(", ")
}

/// The same for a take in milliseconds.
pub fn hears(name: &str, notes: &[Struck], wheel: &[(u64, u8)]) -> String {
    said(&findings(&instrument(name), &take(notes, wheel), None))
}
