//! Musical passages with the findings that a player would expect, worked out by hand.
//!
//! A quarter note lasts half a second. `A4/2` lasts two of them, `A4~/2` is slurred to the next
//! note, `A4+D5` sound together, `-/2` is a rest. A detached note ends 80 ms early. Bars are of
//! four beats. The levels of a still wheel and the bows and breaths that follow from them:
//!
//! | wheel | erhu | violin | dizi in D |
//! | --- | --- | --- | --- |
//! | none | 8.73 s | 10.63 s | 11.33 s |
//! | 64 | 3.75 s | 4.13 s | 8.25 s |
//! | 127 | 1.6 s | 1.6 s | 6.0 s |

use polso::profile::pitch::key_name;

use super::room::{Struck, findings, instrument, take};

const BEAT_MS: f64 = 500.0;
const DETACHED_MS: u64 = 80;
const SLURRED_MS: u64 = 20;

fn key(name: &str) -> u8 {
    (0..128).find(|key| key_name(*key) == name).unwrap_or_else(|| panic!("{name} is a note"))
}

fn notes(melody: &str) -> Vec<Struck> {
    let (mut notes, mut beat) = (Vec::new(), 0.0);
    for word in melody.split_whitespace() {
        let (names, beats) = word.split_once('/').unwrap_or((word, "1"));
        let beats: f64 = beats.parse().expect("beats");
        let at = |beat: f64| (beat * BEAT_MS).round() as u64;
        let (on, next) = (at(beat), at(beat + beats));
        let off = match names.ends_with('~') {
            true => next + SLURRED_MS,
            false => next - DETACHED_MS.min((next - on) / 2),
        };
        let keys = names.trim_end_matches('~').split('+').filter(|name| *name != "-");
        notes.extend(keys.map(|name| (key(name), on, off)));
        beat += beats;
    }
    notes
}

fn check(name: &str, wheel: Option<u8>, melody: &str, expected: &str) {
    let wheel: Vec<(u64, u8)> = wheel.iter().map(|value| (0, *value)).collect();
    let found = findings(&instrument(name), &take(&notes(melody), &wheel), None);
    let each = found.iter().map(|it| {
        let (bar, beat) = (it.bar.unwrap_or(0), it.beat.unwrap_or(0));
        format!("{} {} {}@{bar}.{beat}", it.rule.name(), it.severity.name(), key_name(it.key))
    });
    assert_eq!(each.collect::<Vec<_>>().join(", "), expected, "{name}, wheel {wheel:?}: {melody}");
}

const LOUD: Option<u8> = Some(127);
const MIDDLE: Option<u8> = Some(64);

#[test]
fn what_lies_in_reach() {
    check("erhu", None, "C4 D4 E4", "range impossible C4@1.1");
    check("erhu", None, "D4 A4 D5 A5 D6 E6", "");
    check("erhu", None, "E6 F6 E6", "range hard F6@1.2");
    check("erhu", None, "A6 Bb6", "range hard A6@1.1, range impossible Bb6@1.2");
    check("erhu", None, "G4 A4 C5 D5 E5 G5 A5 C6", "");
    check("dizi-d", None, "A4 D5 A5 D6 B6", "");
    let edge = "range hard C7@1.2, range hard D7@1.3, range impossible Eb7@1.4";
    check("dizi-d", None, "B6 C7 D7 Eb7", edge);
    check("dizi-d", None, "G4 A4", "range impossible G4@1.1");
    check("violin", None, "G3 D4 A4 E5", "");
    check("violin", None, "F#3 G3", "range impossible F#3@1.1");
    check("violin", None, "B6 C7 C#7", "range hard C#7@1.3");
    check(
        "violin",
        None,
        "F#7 G7 Ab7",
        "range hard F#7@1.1, range hard G7@1.2, range impossible Ab7@1.3",
    );
}

#[test]
fn where_the_open_string_rings() {
    check("erhu", MIDDLE, "D4/2 E4/2", "open-vibrato unidiomatic D4@1.1");
    check("erhu", None, "D4/4", "");
    check("erhu", MIDDLE, "D4/0.25 E4/0.25 G4/0.25 A4/0.25", "");
    check("violin", MIDDLE, "G3/2 A3 B3", "open-vibrato unidiomatic G3@1.1");
    check("violin", MIDDLE, "D4/2 A4/2 E5/2", "");
    check("erhu", Some(10), "D4/4", "");
    let twice = "open-vibrato unidiomatic D4@1.3, open-vibrato unidiomatic D4@2.3";
    check("erhu", MIDDLE, "A4/2 D4/2 A4/2 D4/2", twice);
    check("dizi-d", MIDDLE, "A4/2 D5/2", "");
}

#[test]
fn how_far_the_bow_goes() {
    check("erhu", None, "A4/16", "");
    check("erhu", None, "A4/18", "bow hard A4@5.2");
    check("erhu", None, "A4/27", "bow impossible A4@5.2");
    check("erhu", LOUD, "E5/2", "");
    check("erhu", LOUD, "E5/3", "bow hard E5@1.4");
    check("erhu", LOUD, "E5/5", "bow impossible E5@1.4");
    check("erhu", LOUD, "-/4 E5/5 -/4 E5/1", "bow impossible E5@2.4");
    check("erhu", MIDDLE, "A4/4 B4/4", "");
    check("erhu", MIDDLE, "A4~/4 B4/4", "bow hard B4@2.4");
    check("erhu", MIDDLE, "A4~/4 B4~/4 D5/4", "bow impossible B4@2.4");
    check("erhu", MIDDLE, "A4~/4 B4/2 D5~/4 E5/2", "");
    check("erhu", LOUD, "E5/0.5 G5/0.5 E5/0.5 G5/0.5 E5/0.5 G5/0.5 E5/0.5 G5/0.5", "");
    let run = "E5~/0.5 G5~/0.5 E5~/0.5 G5~/0.5 E5~/0.5 G5~/0.5 E5~/0.5 G5~/0.5 \
               E5~/0.5 G5~/0.5 E5~/0.5 G5~/0.5 E5~/0.5 G5~/0.5 E5~/0.5 G5/0.5";
    check("erhu", MIDDLE, run, "bow hard E5@2.4");
    check("violin", None, "A4/16", "");
    check("violin", None, "A4/22", "bow hard A4@6.2");
    check("violin", LOUD, "B4/1", "");
    check("violin", MIDDLE, "A4/9", "bow hard A4@3.1");
}

#[test]
fn how_long_the_breath_lasts() {
    check("dizi-d", None, "A4/20", "");
    check("dizi-d", None, "A4/24", "breath hard A4@6.3");
    check("dizi-d", None, "A4/36", "breath impossible A4@6.3");
    check("dizi-d", LOUD, "A4/8 -/2 A4/8", "");
    check("dizi-d", MIDDLE, "A4/8 A4/8 A4/4", "breath hard A4@5.1");
    check("dizi-d", MIDDLE, "A4/8 -/0.5 A4/8 A4/4", "breath hard A4@5.1");
    check("dizi-d", MIDDLE, "A4/8 -/1 A4/8 A4/4", "");
    check("dizi-d", MIDDLE, &"A4/0.5 ".repeat(40), "");
    check("dizi-d", MIDDLE, &"A4/0.5 ".repeat(60), "breath hard A4@7.1");
    check("dizi-d", MIDDLE, "A4~/4 B4~/4 D5~/4 E5/6", "breath hard E5@5.1");
    check("dizi-d", MIDDLE, "A4~/4 B4~/4 D5~/2 -/2 E5/6", "");
}

#[test]
fn where_the_finger_slides() {
    check("erhu", LOUD, "D5~/0.5 E5/0.5", "");
    check("erhu", LOUD, "E4~/0.5 D4/0.4", "slide impossible D4@1.1");
    check("erhu", LOUD, "G4~/0.5 A5/0.5", "slide impossible A5@1.1");
    check("erhu", LOUD, "B4~/0.5 B5/0.5", "slide hard B5@1.1");
    check("erhu", LOUD, "E5~/0.5 E6/0.5", "");
    check("erhu", MIDDLE, "B4~/0.5 B5/0.5", "");
    check("erhu", LOUD, "A4~/0.2 B4/0.2", "");
    check("violin", LOUD, "A3~/0.5 E4/0.5", "");
    check("violin", LOUD, "A3~/0.5 A4/0.5", "slide impossible A4@1.1");
    let from_open = "open-vibrato unidiomatic G3@1.1, slide impossible A3@1.1";
    check("violin", LOUD, "G3~/0.5 A3/0.5", from_open);
    check("dizi-d", LOUD, "A4~/0.75 B4/0.5", "");
    check("dizi-d", LOUD, "A4~/0.75 D5/0.5", "slide impossible D5@1.1");
}

#[test]
fn how_the_line_leaps() {
    check("erhu", None, "E4/0.2 A5/0.5", "leap hard A5@1.1");
    check("erhu", None, "E4/0.5 A5/0.5", "");
    check("erhu", None, "E4/0.2 E5/0.2", "");
    check("violin", None, "G3/0.2 G5/0.2", "leap hard G5@1.1");
    check("violin", None, "G3/0.2 D4/0.2 B4/0.2 G5/0.2", "");
    check("dizi-d", None, "A4/0.2 D6/0.2", "");
}

#[test]
fn what_sounds_together() {
    check("violin", None, "G3+D4 A3+E4", "");
    check("violin", None, "D4+B4", "");
    check("violin", None, "B3+C4", "double-stop impossible B3@1.1");
    check("violin", None, "D4+F#4", "");
    check("violin", None, "A4+C5+E5", "double-stop impossible A4@1.1");
    check("violin", None, "A4+A5", "");
    check("violin", None, "G4 C4+E5", "double-stop impossible C4@1.2");
    check("erhu", None, "D4+A4", "double-stop impossible D4@1.1");
    check("dizi-d", None, "A4+D5", "double-stop impossible A4@1.1");
}
