//! The audit against an oracle that is too simple to be wrong, on random lines.
//!
//! The oracle knows the instrument's numbers, the messages that went out and the engine's view
//! at each millisecond. It walks through time millisecond by millisecond.

use polso::engine::patch::Source;
use polso::engine::{Message, Origin};
use polso::engine::{Mode, View, reason::Reason};
use polso::offline::midi::{TempoMap, read::read};
use polso::offline::perform::{Asked, Observation, Raster, perform};
use polso::offline::take::line;
use polso::profile::Instrument;
use polso::profile::instrument::Budget;

use super::comings::{Comes, comings, first_of};
use super::room::{Struck, findings, instrument, settings, take};
use crate::die::Die;

/// Rule, severity, key, millisecond.
type Heard = (String, String, u8, u64);

/// One note as the oracle sees it, in milliseconds.
struct Seen {
    key: u8,
    on: usize,
    off: usize,
    view: View,
}

struct Room {
    seen: Vec<Seen>,
    /// The level of each millisecond.
    levels: Vec<f64>,
    notes: Vec<Struck>,
}

fn perform_take(instrument: &Instrument, notes: &[Struck], bytes: &[u8]) -> Room {
    let file = read(bytes).expect("a take");
    let patch = settings(instrument).patch;
    let line = line::choose(&file, Source::Controller(1), &[], &[]).expect("a line").lines[0];
    let (mut levels, mut views) = (Vec::new(), Vec::new());
    // Without finer ticks: a tick is a millisecond, and so the off of a note is too.
    let look = |look: Observation| {
        if look.is_on_raster {
            levels.push(look.view.dynamics);
        }
        if look.begun.is_some() {
            views.push((look.frame / 48, *look.view));
        }
    };
    let raster = Raster::All(48);
    let played =
        perform(&file, &TempoMap::of(&file), &patch, &line, &Asked::default(), raster, look)
            .expect("played");
    let mut seen: Vec<Seen> = Vec::new();
    let mut tags = Vec::new();
    for sent in &played.sent {
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { key, .. }) => {
                let at =
                    views.iter().find(|(ms, _)| *ms == sent.tick).expect("a view of each note");
                let on = sent.tick as usize;
                seen.push(Seen { key, on, off: on, view: at.1 });
                tags.push(tag);
            }
            (Origin::Note(tag), Message::NoteOff { .. }) => {
                let place = tags.iter().position(|it| *it == tag).expect("its on");
                seen[place].off = sent.tick as usize;
            }
            _ => {}
        }
    }
    Room { seen, levels, notes: notes.to_vec() }
}

fn oracle(instrument: &Instrument, room: &Room) -> Vec<Heard> {
    let mut heard = Vec::new();
    for (place, seen) in room.seen.iter().enumerate() {
        let mut say = |rule: &str, severity: &str, key: u8| {
            heard.push((rule.to_owned(), severity.to_owned(), key, seen.on as u64));
        };
        let hard = instrument.range.hard_keys;
        let easy = instrument.range.comfortable_keys;
        if seen.key < hard.0 || seen.key > hard.1 {
            say("range", "impossible", seen.key);
        } else if seen.key < easy.0 || seen.key > easy.1 {
            say("range", "hard", seen.key);
        }
        if is_in_chord(instrument, room, place) {
            continue;
        }
        let later =
            (place + 1..room.seen.len()).take_while(|at| is_in_chord(instrument, room, *at));
        let chord: Vec<&Seen> = [place].into_iter().chain(later).map(|at| &room.seen[at]).collect();
        let last = chord[chord.len() - 1].on;
        let keys: Vec<u8> = chord.iter().filter(|it| it.off > last).map(|it| it.key).collect();
        if keys.len() == 2 && !can_stop_both(instrument, keys[0], keys[1]) {
            say("double-stop", "impossible", seen.key);
        }
        if place == 0 {
            continue;
        }
        let (from, from_ms) = line_before(instrument, room, place);
        let ms = seen.on as u64 - from_ms;
        if instrument.strings.is_some() && from.abs_diff(seen.key) > 12 && ms < 120 {
            say("leap", "hard", seen.key);
        }
        let refused = matches!(
            seen.view.legato_reason,
            Reason::TooWide | Reason::NoCommonString | Reason::OpenEnd | Reason::HandTooFast
        );
        if (seen.view.mode == Mode::Slide || refused)
            && let Some(severity) = slide(instrument, from, seen.key, ms as f64 / 1000.0)
        {
            say("slide", severity, seen.key);
        }
    }
    budget(instrument, room, &mut heard);
    heard.sort_by_key(|it| it.3);
    heard
}

/// It sounds with the note before it: in a chord, or over a grace that stays.
fn is_in_chord(instrument: &Instrument, room: &Room, place: usize) -> bool {
    match comings(instrument, &room.notes)[place].0 {
        Comes::Alone => false,
        Comes::InChord => true,
        Comes::AfterGrace => {
            let (last, seen) = (&room.seen[place - 1], &room.seen[place]);
            last.off.min(seen.off) >= seen.on + 250
        }
    }
}

/// The key that has the line before a note, and when the chord or grace before it began; from the
/// take alone.
fn line_before(instrument: &Instrument, room: &Room, place: usize) -> (u8, u64) {
    let notes = &room.notes;
    let comings = comings(instrument, notes);
    let first = first_of(&comings, place - 1);
    // Every moment at which something changes, played through once more: offs before ons.
    let end = notes[place].1;
    let mut moments: Vec<(u64, bool, usize)> = Vec::new();
    for (at, note) in notes.iter().enumerate() {
        moments.extend([(note.2, false, at), (note.1, true, at)]);
    }
    moments.retain(|it| it.0 < end || it.0 == end && (!it.1 || it.2 < place));
    moments.sort_unstable();
    let (mut owner, mut held): (usize, Vec<usize>) = (0, Vec::new());
    for (_, is_on, at) in moments {
        if is_on {
            held.push(at);
            let is_own = |it: &&usize| {
                comings[at].1.contains(&notes[**it].0) && **it >= first_of(&comings, at)
            };
            owner = match comings[at].0 {
                Comes::InChord => {
                    *held.iter().filter(is_own).max_by_key(|it| notes[**it].0).expect("it")
                }
                _ => at,
            };
        } else {
            held.retain(|it| *it != at);
            if owner == at {
                owner = held.iter().max().copied().unwrap_or(owner);
            }
        }
    }
    (notes[owner].0, notes[first].1)
}

fn can_stop_both(instrument: &Instrument, one: u8, other: u8) -> bool {
    let Some(strings) = &instrument.strings else { return false };
    if instrument.voice_count < 2 {
        return false;
    }
    for lower in 0..strings.open_keys.len() - 1 {
        for (a, b) in [(one, other), (other, one)] {
            let high_a = i32::from(a) - i32::from(strings.open_keys[lower]);
            let high_b = i32::from(b) - i32::from(strings.open_keys[lower + 1]);
            let fits_a = high_a >= 0 && high_a <= i32::from(strings.span_semitones[lower]);
            let fits_b = high_b >= 0 && high_b <= i32::from(strings.span_semitones[lower + 1]);
            let is_near = high_a == 0 || high_b == 0 || (high_a - high_b).abs() <= 8;
            if fits_a && fits_b && is_near {
                return true;
            }
        }
    }
    false
}

fn slide(instrument: &Instrument, from: u8, to: u8, ioi_s: f64) -> Option<&'static str> {
    let Some(strings) = &instrument.strings else {
        let semitones = i32::from(to) - i32::from(from);
        return (semitones.abs() > i32::from(instrument.legato.slide_max_semitones))
            .then_some("impossible");
    };
    if strings.forced_open_keys.contains(&from) || strings.forced_open_keys.contains(&to) {
        return Some("impossible");
    }
    let mut slowest = f64::INFINITY;
    for (open, span) in strings.open_keys.iter().zip(&strings.span_semitones) {
        if from > *open && to > *open && from <= open + span && to <= open + span {
            // The twelfth root of 2, as often as there are semitones.
            let length = |key: u8| {
                (0..key - open).fold(strings.length_m, |l, _| l / 1.059_463_094_359_295_3)
            };
            let time_s = if ioi_s < 0.12 { ioi_s } else { 0.12 };
            slowest = f64::min(slowest, (length(from) - length(to)).abs() / time_s);
        }
    }
    match slowest {
        speed if speed > 2.0 => Some("impossible"),
        speed if speed > 1.2 => Some("hard"),
        _ => None,
    }
}

fn budget(instrument: &Instrument, room: &Room, heard: &mut Vec<Heard>) {
    let (rule, pp_s, ff_s) = match instrument.budget {
        Budget::Bow { pp_s, ff_s } => ("bow", pp_s, ff_s),
        Budget::Breath { pp_s, ff_s, .. } => ("breath", pp_s, ff_s),
    };
    let end = room.seen.iter().map(|it| it.off).max().unwrap_or(0);
    let (mut spent, mut silent_ms, mut empty): (f64, usize, Option<(u8, usize)>) =
        (0.0, 100_000, None);
    let mut close = |spent: f64, empty: &mut Option<(u8, usize)>| {
        if let Some((key, ms)) = empty.take() {
            let severity = if spent > 1.5 { "impossible" } else { "hard" };
            heard.push((rule.to_owned(), severity.to_owned(), key, ms as u64));
        }
    };
    let mut newest = 0;
    for ms in 0..end {
        let sounds = room.seen.iter().any(|it| it.on <= ms && ms < it.off);
        for (place, seen) in room.seen.iter().enumerate().filter(|(_, it)| it.on == ms) {
            newest = seen.key;
            let is_chord = is_in_chord(instrument, room, place);
            let turns = match instrument.budget {
                Budget::Bow { .. } => !is_chord && turns_bow(instrument, room, place),
                Budget::Breath { .. } => silent_ms >= 250,
            };
            if turns {
                close(spent, &mut empty);
                let keeps = rule == "breath" && silent_ms < 700;
                spent = if keeps { f64::max(f64::min(spent, 1.0) - 0.6, 0.0) } else { 0.0 };
            }
        }
        silent_ms = if sounds { 0 } else { silent_ms + 1 };
        if sounds {
            let level = room.levels[ms];
            spent += 0.001 / (libm::exp((1.0 - level) * libm::log(pp_s) + level * libm::log(ff_s)));
            if spent > 1.0 + 1e-6 && empty.is_none() {
                empty = Some((newest, ms));
            }
        }
    }
    close(spent, &mut empty);
}

/// The engine's mode says it; where it only speaks of a later note of the moment, the keys that were
/// down do.
fn turns_bow(instrument: &Instrument, room: &Room, place: usize) -> bool {
    let seen = &room.seen[place];
    let is_anothers = match seen.view.legato_reason {
        Reason::Chord => true,
        Reason::Grace => comings(instrument, &room.notes)[place].0 != Comes::AfterGrace,
        _ => false,
    };
    if !is_anothers {
        return seen.view.mode == Mode::Fresh;
    }
    !room.seen[..place].iter().any(|it| it.off > seen.on)
}

/// A line of a few notes: runs and long notes, slurs and gaps, leaps, and chords where asked.
fn random_line(instrument: &Instrument, chance: &mut Die) -> (Vec<Struck>, Vec<(u64, u8)>) {
    let (low, high) = instrument.range.hard_keys;
    let (mut notes, mut now, mut key): (Vec<Struck>, u64, u8) = (Vec::new(), 500, low + 8);
    for _ in 0..3 + chance.below(8) {
        let step = [1, 2, 3, 5, 8, 14, 20][chance.below(7) as usize];
        let next =
            if chance.below(2) == 0 { key.saturating_add(step) } else { key.saturating_sub(step) };
        key = if next < low - 2 || next > high + 2 { (low + high) / 2 } else { next };
        let long = [50 + chance.below(80), 100 + chance.below(300), 300 + chance.below(1500)];
        let long = long[chance.below(3) as usize];
        let over = [0, 1 + chance.below(40), 0][chance.below(3) as usize].min(long / 2);
        let gap = [0, 0, 20 + chance.below(200), 230 + chance.below(40), 680 + chance.below(40)];
        let gap = if over > 0 { 0 } else { gap[chance.below(5) as usize] };
        notes.push((key, now, now + long + over));
        if chance.below(6) == 0 {
            let apart = chance.below(45);
            let other = key + 1 + chance.below(16) as u8;
            if other <= high + 2 && long > 60 {
                notes.push((other, now + apart, now + long + chance.below(over + 1)));
            }
        }
        now += long + gap;
    }
    notes.sort_by_key(|note| note.1);
    let mut at = 0;
    let mut wheel = vec![(0, chance.below(128) as u8)];
    while at < now {
        at += 50 + chance.below(1500);
        wheel.push((at, [0, 40, 100, 127, chance.below(128)][chance.below(5) as usize] as u8));
    }
    (notes, wheel)
}

/// The same key is never down twice, so that the oracle may tell notes by their keys.
fn is_plain(notes: &[Struck]) -> bool {
    let clash = |a: &Struck, b: &Struck| a.0 == b.0 && a.1 <= b.2 + 400 && b.1 <= a.2 + 400;
    notes.iter().enumerate().all(|(place, a)| notes[..place].iter().all(|b| !clash(a, b)))
}

fn check(name: &str, seed: u64, change: impl Fn(&mut Instrument)) {
    let mut instrument = instrument(name);
    // Short bows and breaths, so that lines of some seconds use them up.
    match &mut instrument.budget {
        Budget::Bow { pp_s, ff_s } => (*pp_s, *ff_s) = (3.0, 0.7),
        Budget::Breath { pp_s, ff_s, .. } => (*pp_s, *ff_s) = (4.0, 1.5),
    }
    change(&mut instrument);
    let mut chance = Die(seed);
    let mut counts = std::collections::BTreeMap::<String, usize>::new();
    let mut lines = 0;
    while lines < 2000 {
        let (notes, wheel) = random_line(&instrument, &mut chance);
        if !is_plain(&notes) {
            continue;
        }
        lines += 1;
        let bytes = take(&notes, &wheel);
        let expected = oracle(&instrument, &perform_take(&instrument, &notes, &bytes));
        let found = findings(&instrument, &bytes, None);
        let mut found: Vec<Heard> = found
            .iter()
            .filter(|it| it.rule.name() != "open-vibrato")
            .map(|it| (it.rule.name().into(), it.severity.name().into(), it.key, it.tick))
            .collect();
        let what = || format!("{name}, line {lines}: {notes:?} {wheel:?}");
        let mut expected = expected;
        expected.sort();
        found.sort();
        assert_eq!(found.len(), expected.len(), "{}\n{found:?}\n{expected:?}", what());
        for (one, other) in found.iter().zip(&expected) {
            let is_near = one.3.abs_diff(other.3) <= 1;
            assert!(
                (&one.0, &one.1, one.2) == (&other.0, &other.1, other.2) && is_near,
                "{}\n{found:?}\n{expected:?}",
                what()
            );
            *counts.entry(format!("{} {}", one.0, one.1)).or_default() += 1;
        }
    }
    // The lines must have met every rule that they could.
    let mut rules =
        vec!["range hard", "range impossible", "slide impossible", "double-stop impossible"];
    rules.extend(match instrument.strings {
        Some(_) => ["bow hard", "bow impossible", "leap hard"],
        None => ["breath hard", "breath impossible", "range hard"],
    });
    for rule in rules {
        assert!(counts.get(rule).is_some_and(|count| *count >= 20), "{name}: {rule}: {counts:?}");
    }
}

#[test]
fn two_thousand_lines_on_two_strings_agree_with_the_oracle() {
    check("erhu", 1, |_| {});
}

#[test]
fn two_thousand_lines_on_four_strings_agree_with_the_oracle() {
    check("violin", 2, |_| {});
}

#[test]
fn two_thousand_lines_of_breath_agree_with_the_oracle() {
    check("dizi-d", 3, |_| {});
}
