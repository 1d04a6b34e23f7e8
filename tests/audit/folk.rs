//! Chinese folk melodies on the erhu: what is sung for centuries should hardly be impossible.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use polso::engine::Message;
use polso::offline::audit::{AuditRule, Severity};
use polso::offline::midi::{Bytes, File, TrackEvent, read::read, write::write};

use super::room::{findings, instrument};
use super::sample::{figure, is_whole, said, sample};

/// How many melodies the two books of Chinese folk song hold.
const MELODY_COUNT: usize = 1222;

/// The melodies by name. Fails with a sentence if they are not there.
fn melodies() -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/outside/han");
    let entries = fs::read_dir(&folder).unwrap_or_else(|error| {
        panic!("target/outside/han: {error}; `cargo xtask outside` makes the folk melodies")
    });
    let mut paths: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|it| it == "mid"));
    paths.sort();
    assert_eq!(paths.len(), MELODY_COUNT, "`cargo xtask outside` makes all of the folk melodies");
    let named = paths.iter().map(|path| {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        (name, fs::read(path).expect("a melody"))
    });
    named.collect()
}

fn keys(file: &File) -> Vec<u8> {
    let events = file.tracks.iter().flat_map(|track| &track.events);
    let keys = events.filter_map(|event| match event.message() {
        Some(Message::NoteOn { key, .. }) => Some(key),
        _ => None,
    });
    keys.collect()
}

/// By as few octaves as bring every note into `range`; where none does, by as few semitones.
fn shift(keys: &[u8], range: (u8, u8)) -> i16 {
    let fits = |by: &i16| {
        keys.iter()
            .all(|key| (i16::from(range.0)..=i16::from(range.1)).contains(&(i16::from(*key) + by)))
    };
    let octaves = [0, 12, -12, 24, -24];
    let semitones = (1..=30).flat_map(|by| [by, -by]);
    octaves.into_iter().chain(semitones).find(fits).expect("a melody of less than the range")
}

fn transposed(mut file: File, by: i16) -> File {
    let moved = |key: u8| (i16::from(key) + by) as u8;
    for event in file.tracks.iter_mut().flat_map(|track| &mut track.events) {
        let message = match event.message() {
            Some(Message::NoteOn { channel, key, velocity }) => {
                Message::NoteOn { channel, key: moved(key), velocity }
            }
            Some(Message::NoteOff { channel, key, velocity }) => {
                Message::NoteOff { channel, key: moved(key), velocity }
            }
            _ => continue,
        };
        event.bytes = Bytes::from(message);
    }
    file
}

/// The gesture held still at `value` from the beginning.
fn with_wheel(mut file: File, value: u8) -> File {
    for track in &mut file.tracks {
        let note = track.events.iter().filter_map(|event| event.message());
        let channel =
            note.filter(|it| matches!(it, Message::NoteOn { .. })).map(|it| it.channel()).next();
        if let Some(channel) = channel {
            let message = Message::Controller { channel, number: 1, value };
            track.events.insert(0, TrackEvent { tick: 0, bytes: Bytes::from(message) });
        }
    }
    file
}

/// What the audit says of melodies: by severity and rule, and each impossible one in words.
fn hear(
    melodies: &[(String, Vec<u8>)],
    wheel: Option<u8>,
) -> (BTreeMap<(Severity, AuditRule), usize>, Vec<String>) {
    let erhu = instrument("erhu");
    let mut impossible = Vec::new();
    let mut counts = BTreeMap::new();
    for (name, bytes) in melodies {
        let file = read(bytes).expect("a melody");
        let by = shift(&keys(&file), erhu.range.comfortable_keys);
        let file = transposed(file, by);
        let file = match wheel {
            Some(value) => with_wheel(file, value),
            None => file,
        };
        for finding in findings(&erhu, &write(&file).expect("a take"), None) {
            *counts.entry((finding.severity, finding.rule)).or_default() += 1;
            if finding.severity == Severity::Impossible {
                let bar = finding.bar.unwrap_or(0);
                impossible.push(format!("{name}, bar {bar}: {}", finding.sentence));
            }
        }
    }
    (counts, impossible)
}

#[test]
fn folk_melodies_as_they_are_notated_are_playable_on_the_erhu() {
    let (counts, impossible) = hear(&sample(melodies()), None);
    assert_eq!(impossible, Vec::<String>::new());
    assert_eq!(counts, BTreeMap::new(), "nor is anything hard");
    figure("audit-notated", &format!("{} folk melodies without a remark", said(MELODY_COUNT)));
}

#[test]
fn folk_melodies_at_a_middling_level_have_two_notes_that_no_bow_holds() {
    // Looked at in the tune books: a whole note of 6.2 s and a last note of 6.0 s in a free song.
    // Singers hold them; a player turns the bow within them.
    let sample = sample(melodies());
    let (counts, impossible) = hear(&sample, Some(64));
    let bow = |it: &String| it.contains("This bow stroke");
    assert!(impossible.iter().all(bow), "{impossible:#?}");
    let places: Vec<&str> = impossible.iter().filter_map(|it| it.split(':').next()).collect();
    let is_of = |place: &str, name: &str| place.split(',').next() == Some(name);
    let is_played = |place: &&str| sample.iter().any(|(name, _)| is_of(place, name));
    let known = ["han1191, bar 2", "han1276, bar 15"].into_iter();
    assert_eq!(places, known.filter(is_played).collect::<Vec<_>>());
    // A still hand in the middle asks for vibrato on every long open D; nothing else is remarked.
    let remarks = [
        (Severity::Hard, AuditRule::Bow, 13),
        (Severity::Unidiomatic, AuditRule::OpenVibrato, 1527),
    ];
    for (severity, rule, whole) in remarks {
        let count = counts.get(&(severity, rule)).copied().unwrap_or(0);
        assert!(count == whole || !is_whole() && count < whole, "{rule:?}: {count}, not {whole}");
    }
    let is_known = |(severity, rule): &(Severity, AuditRule)| {
        remarks.iter().any(|(known, own, _)| (known, own) == (severity, rule))
            || (*severity, *rule) == (Severity::Impossible, AuditRule::Bow)
    };
    assert!(counts.keys().all(is_known), "{counts:?}");
    let tunes = said(MELODY_COUNT);
    figure("audit-middling", &format!("{tunes} folk melodies at a middling level: {counts:?}"));
}
