//! Takes in several voices: shaped, traced, reported, and taken out again to the byte.

use polso::engine::Message;
use polso::engine::patch::{LeadingVoice, VoiceKind, VoicesPatch};
use polso::offline::midi::{read::read, write::write};
use polso::offline::peel::peel;
use polso::offline::{Settings, record, shape_bytes};
use polso::profile::voices::VoiceChoice;

use super::room::{QUARTER, promises, settings, take, traced};

/// Three keys, of which the upper one goes on by step under a wheel that rises: G4 to A4.
const CHORD: &str = "0 B00140, 0 903750, 0 904050, 0 904350, 240 B00150, 480 904550, 500 804340, \
    960 803740, 960 804040, 960 804540";

/// The settings of a violin in voices, on these channels.
fn in_voices(words: &str, target: &str, channels: &[u8]) -> Settings {
    let mut settings = settings("violin", target);
    let voices = VoiceChoice::of(words).expect("voices");
    settings.patch.voices = voices.patch(channels, LeadingVoice::Highest, 1.0).expect("they fit");
    settings
}

#[test]
fn peel_gives_the_very_take_whatever_the_voices() {
    let take = take(QUARTER, &[CHORD]);
    for target in ["generic", "perform"] {
        for (words, channels) in [
            ("chords:2", &[][..]),
            ("chords:4", &[]),
            ("divisi:8", &[]),
            ("divisi:4", &[1, 2, 3, 4]),
            ("chords:4", &[5, 6, 7, 8]),
            ("divisi:2", &[16, 1]),
        ] {
            let settings = in_voices(words, target, channels);
            let shaped = shape_bytes(&take, &settings).expect("shaped");
            let peeled = peel(read(&shaped.bytes).expect("a file")).expect("peeled");
            let bytes = write(&peeled.file).expect("written");
            assert!(bytes == take, "{words} on {channels:?}, {target}");
            if channels.is_empty() {
                assert_eq!(promises(&take, &shaped.bytes, &settings), Ok(()), "{words}, {target}");
            }
        }
    }
}

#[test]
fn a_shaped_file_says_its_voices() {
    let take = take(QUARTER, &[CHORD]);
    let said = |settings: &Settings| {
        let shaped = shape_bytes(&take, settings).expect("shaped");
        let file = read(&shaped.bytes).expect("a file");
        let marker = file.tracks[0].events.iter().find_map(record::marker_text).expect("a marker");
        let marked = record::marker_field(marker, "voices").map(str::to_owned);
        (marked, shaped.report.lines[0].voices.clone(), shaped.report.to_string())
    };
    let (marker, report, summary) = said(&in_voices("divisi", "generic", &[]));
    assert_eq!(marker.as_deref(), Some("divisi:4"));
    let in_full = "divisi:4 on one channel, whose outputs follow the highest";
    assert_eq!(report.as_deref(), Some(in_full));
    assert!(summary.contains(&format!("voices     {in_full}\n")), "{summary}");
    let (_, report, _) = said(&in_voices("chords", "perform", &[3, 1]));
    assert_eq!(report.as_deref(), Some("chords:2 on channels 3, 1"));
    let (marker, report, summary) = said(&settings("violin", "generic"));
    assert!(marker.is_none() && report.is_none() && !summary.contains("voices"));
}

#[test]
fn each_voice_is_heard_on_its_channel() {
    let take = take(QUARTER, &[CHORD]);
    let shaped = shape_bytes(&take, &in_voices("divisi", "perform", &[4, 5, 6])).expect("shaped");
    let file = read(&shaped.bytes).expect("a file");
    let mut ons: Vec<(u8, u8)> = Vec::new();
    let mut bent = [0; 16];
    for message in file.tracks[0].events.iter().filter_map(|event| event.message()) {
        match message {
            Message::NoteOn { channel, key, .. } => ons.push((channel, key)),
            Message::PitchBend { channel, .. } => bent[usize::from(channel)] += 1,
            _ => {}
        }
    }
    ons.sort_unstable();
    assert_eq!(ons, [(3, 67), (3, 69), (4, 64), (5, 55)]);
    // All three are sounded by bends of their own; the lowest is an open string and stays straight.
    assert!(bent[3] > 5 && bent[4] > 5 && bent[0] == 0, "{bent:?}");
}

#[test]
fn every_voice_has_its_rows() {
    let take = take(QUARTER, &[CHORD]);
    let (csv, _) = traced(&take, &in_voices("divisi:4", "generic", &[]), 10);
    let rows: Vec<Vec<&str>> = csv.lines().map(|row| row.split(',').collect()).collect();
    let at = |seconds: &str| {
        let own = rows.iter().filter(|row| row[0] == seconds);
        own.map(|row| (row[row.len() - 1], row[1])).collect::<Vec<_>>()
    };
    assert_eq!(at("0.250"), [("1", "67"), ("2", "64"), ("3", "55")]);
    assert_eq!(at("0.800"), [("1", "69"), ("2", "64"), ("3", "55")]);
    assert_eq!(at("3.000").len(), 1, "in silence there is one row");
    assert_eq!(settings("violin", "generic").patch.voices, VoicesPatch::LINE);
    assert_eq!(in_voices("line", "generic", &[1]).patch.voices.kind, VoiceKind::Line);
}
