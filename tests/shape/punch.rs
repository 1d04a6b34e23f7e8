//! Bars of a new take in an old one: what is outside stays, and no seam is a step.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::die::Die;
use super::room::{QUARTER, file, settings, take};
use polso::engine::Message;
use polso::offline::midi::{
    Bars, Bytes, Division, File, Track, TrackEvent, read::read, write::write,
};
use polso::offline::peel::peel;
use polso::offline::punch::{punch, punch_shaped};
use polso::offline::{Request, shape_bytes, shape_named};

const BAR: u64 = 4 * 480;
const BAR_COUNT: u64 = 8;

fn bars(text: &str) -> Bars {
    text.parse().unwrap()
}

/// Eight bars of notes, slurred or not, under a wheel that wanders and a bend, with a pedal.
fn played(seed: u64) -> File {
    let mut die = Die(seed);
    let mut events: Vec<(u64, [u8; 3])> = Vec::new();
    let end = BAR * BAR_COUNT;
    let (mut tick, mut value) = (0, 64_i64);
    let step_max = 1 + die.below(12) as i64;
    while tick < end {
        value = (value + die.below(2 * step_max as u64 + 1) as i64 - step_max).clamp(0, 127);
        events.push((tick, [0xB0, 1, value as u8]));
        tick += 4 + die.below(200);
    }
    let (mut tick, mut bend) = (die.below(900), 8192_i64);
    while tick < end {
        bend = (bend + die.below(1201) as i64 - 600).clamp(0, 16_383);
        events.push((tick, [0xE0, (bend & 0x7F) as u8, (bend >> 7) as u8]));
        tick += 30 + die.below(2000);
    }
    let mut tick = die.below(200);
    while tick < end {
        let (key, length) = (60 + die.below(12) as u8, 60 + die.below(900));
        events.push((tick, [0x90, key, 1 + die.below(127) as u8]));
        events.push((tick + length, [0x80, key, 64]));
        tick += 60 + die.below(900);
    }
    events.push((die.below(end), [0xB0, 64, 127]));
    events.push((die.below(end), [0xB0, 64, 0]));
    events.sort_by_key(|(tick, bytes)| (*tick, bytes[0]));
    let end_tick = events.last().map_or(0, |event| event.0);
    let event = |(tick, bytes): (u64, [u8; 3])| TrackEvent { tick, bytes: bytes[..].into() };
    let track = Track { events: events.into_iter().map(event).collect(), end_tick };
    read(&file(QUARTER, vec![track])).unwrap()
}

/// The values of the wheel, or of the bend, with their ticks.
fn values(file: &File, is_bend: bool) -> Vec<(u64, i64)> {
    let each = file.tracks[0].events.iter().filter_map(|event| match event.message()? {
        Message::Controller { number: 1, value, .. } if !is_bend => {
            Some((event.tick, i64::from(value)))
        }
        Message::PitchBend { value, .. } if is_bend => Some((event.tick, i64::from(value))),
        _ => None,
    });
    each.collect()
}

fn step_max(values: &[(u64, i64)]) -> i64 {
    values.windows(2).map(|two| (two[1].1 - two[0].1).abs()).max().unwrap_or(0)
}

/// What is wrong with one seam, if anything is.
fn breach(seed: u64) -> Option<String> {
    let (old, new) = (played(2 * seed), played(2 * seed + 1));
    let mut die = Die(seed);
    let first = 1 + die.below(BAR_COUNT);
    let last = first + die.below(BAR_COUNT + 1 - first);
    let punched = punch(&old, &new, Bars { first, last: Some(last) }, &[]).unwrap();
    let end_tick = old.tracks[0].end_tick;
    let (start, end) = ((first - 1) * BAR, last * BAR);
    let end = if end > end_tick { u64::MAX } else { end };
    let inside = |tick: u64| (start..end).contains(&tick);
    let outside = |file: &File| -> Vec<(u64, Bytes)> {
        let events = file.tracks[0].events.iter().filter(|event| !inside(event.tick));
        events.map(|event| (event.tick, event.bytes.clone())).collect()
    };
    if outside(&old) != outside(&punched) {
        return Some("something outside is not as it was".to_owned());
    }
    let ons = |file: &File| -> Vec<(u64, Bytes)> {
        let events = file.tracks[0].events.iter();
        let ons = events.filter(|event| inside(event.tick) && event.bytes[0] == 0x90);
        ons.map(|event| (event.tick, event.bytes.clone())).collect()
    };
    if ons(&new) != ons(&punched) {
        return Some("the notes inside are not the new ones".to_owned());
    }
    for is_bend in [false, true] {
        let [was, comes, is] = [&old, &new, &punched].map(|file| values(file, is_bend));
        // A still wheel glides by one, a still bend by 32 of 16,384.
        let allowed = step_max(&was).max(step_max(&comes)).max(if is_bend { 32 } else { 1 });
        if step_max(&is) > allowed {
            return Some(format!("a step of {} where {allowed} is allowed", step_max(&is)));
        }
        let held = |values: &[(u64, i64)], tick: u64| {
            values.iter().rfind(|(at, _)| *at <= tick).map(|(_, value)| *value)
        };
        if end != u64::MAX && held(&was, end - 1).is_some_and(|it| held(&is, end - 1) != Some(it)) {
            return Some("the bars do not end where the old take goes on".to_owned());
        }
        // Between the seams the new take alone.
        let middle = (start + if start > 0 { BAR } else { 0 })..(end.min(end_tick) - BAR);
        let own = |values: &[(u64, i64)]| -> Vec<(u64, i64)> {
            let mut own: Vec<(u64, i64)> =
                values.iter().filter(|(at, _)| middle.contains(at)).copied().collect();
            own.dedup_by_key(|(_, value)| *value);
            own
        };
        let differs = |tick: &u64| held(&comes, *tick) != held(&is, *tick);
        if last - first >= 2 && own(&comes).iter().map(|(tick, _)| *tick).any(|tick| differs(&tick))
        {
            return Some("between the seams the gesture is not the new one".to_owned());
        }
    }
    let mut open = 0_i64;
    for event in punched.tracks[0].events.iter().filter(|event| event.tick < end_tick) {
        open += i64::from(event.bytes[0] == 0x90);
    }
    (open == 0).then(|| "nothing sounds".to_owned())
}

#[test]
fn no_seam_of_two_thousand_is_a_step_and_nothing_outside_changes() {
    for seed in 0..2000 {
        if let Some(sentence) = breach(seed) {
            panic!("seed {seed}: {sentence}");
        }
    }
}

/// From one still wheel to another: every value in between, one by one.
#[test]
fn between_still_wheels_the_gesture_goes_one_by_one() {
    let line =
        |value: u8| format!("0 B001{value:02X}, 0 903C50, 7000 803C40, 9600 B001{value:02X}");
    let [old, new] = [10, 100].map(|value| read(&take(QUARTER, &[&line(value)])).unwrap());
    let punched = punch(&old, &new, bars("2..3"), &[]).unwrap();
    let is = values(&punched, false);
    assert!(is.len() > 150 && step_max(&is) == 1, "{} values, {}", is.len(), step_max(&is));
    assert!(is.contains(&(is.iter().find(|it| it.1 == 100).unwrap().0, 100)));
    assert_eq!(is.last(), Some(&(9600, 10)));
}

#[test]
fn a_note_belongs_to_the_take_in_which_it_begins() {
    let old = "0 903C50, 2000 803C40, 2100 903E50, 4000 803E40, 4100 904050, 4300 804040";
    let new = "1800 904550, 2500 804540, 2600 904750, 4200 804740";
    let [old, new] = [old, new].map(|line| read(&take(QUARTER, &[line])).unwrap());
    let punched = punch(&old, &new, bars("2..2"), &[]).unwrap();
    // The old D4 is gone, its off outside stays; the new B4 ends with the bar.
    let expected = "0 903C50, 2000 803C40, 2600 904750, 3839 804740, 4000 803E40, 4100 904050, \
                    4300 804040";
    assert_eq!(write(&punched).unwrap(), take(QUARTER, &[expected]));
}

#[test]
fn what_is_switched_comes_and_goes_and_a_longer_take_brings_its_bars_alone() {
    let check = |old: &str, new: &str, bars_text: &str, expected: &str| {
        let [old, new] = [old, new].map(|line| read(&take(QUARTER, &[line])).unwrap());
        let punched = punch(&old, &new, bars(bars_text), &[]).unwrap();
        let expected = read(&take(QUARTER, &[expected])).unwrap();
        assert_eq!(punched.tracks[0].events, expected.tracks[0].events);
    };
    // The pedal is down in the new take and up in the old one; the program likewise.
    let old = "0 C001, 0 B04000, 2000 B04001, 5000 903C50, 6000 803C40";
    let new = "0 C002, 0 B0407F, 3000 B04020, 6000 803C40";
    let expected = "0 C001, 0 B04000, 1920 B0407F, 1920 C002, 3000 B04020, 3839 B04001, 3839 C001, \
                    5000 903C50, 6000 803C40";
    check(old, new, "2..2", expected);
    // Pressure on keys and a pedal that the new take never sends.
    let old = "0 903C50, 2000 A03C10, 2100 B04020, 6000 803C40";
    let expected = old.replace("2000 A", "1920 B00140, 2000 A");
    check(old, "0 B00140, 6000 B00140", "2..2", &expected);
    let long = "0 903C50, 300 803C40, 2000 903E50, 2500 803E40, 4000 904050, 9000 804040";
    let short = "0 903C50, 300 803C40, 2100 904150, 2200 804140";
    check(short, long, "2..2", "0 903C50, 300 803C40, 2000 903E50, 2500 803E40");
}

#[test]
fn takes_that_do_not_go_together_are_refused_in_a_sentence() {
    let line = "0 B00140, 0 903C50, 4000 803C40";
    let old = read(&take(QUARTER, &[line])).unwrap();
    let check = |new: &[u8], bars_text: &str, tracks: &[usize], expected: &str| {
        let new = read(new).unwrap();
        let error = punch(&old, &new, bars(bars_text), tracks).unwrap_err().to_string();
        assert_eq!(error, expected);
    };
    let same = take(QUARTER, &[line]);
    check(&same, "9..9", &[], "--bars begins at bar 9; the take ends in bar 3");
    check(&same, "1..1", &[2], "--track is 2; tracks with notes are 1");
    let tempo = take(QUARTER, &[&format!("0 FF5103 0F4240, {line}")]);
    check(&tempo, "1..1", &[], "the two takes have other tempos");
    let metre = take(QUARTER, &[&format!("0 FF5804 03021808, {line}")]);
    check(&metre, "1..1", &[], "the two takes have other bars");
    let two = take(QUARTER, &[line, line]);
    check(&two, "1..1", &[], "the takes have other tracks; choose with --track: 1");
    let odd = take(Division::Quarter(700), &["0 B00140, 0 903C50, 4001 803C40, 6000 B00141"]);
    let counts = "the old take counts 480 ticks of a quarter note, the new one 700 ticks of a \
                  quarter note, and neither fits";
    check(&odd, "1..1", &[], counts);
    // Twice as fine fits.
    let fine = take(Division::Quarter(960), &["0 B00140, 0 903C50, 8001 803C40"]);
    let punched = punch(&old, &read(&fine).unwrap(), bars("1..1"), &[]).unwrap();
    assert_eq!(punched.division, Division::Quarter(960));
}

/// The example as somebody plays it again: the wheel lies the other way, the keys go harder.
fn example_again() -> (Vec<u8>, File) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");
    let bytes = fs::read(path).unwrap();
    let mut again = read(&bytes).unwrap();
    for event in again.tracks.iter_mut().flat_map(|track| &mut track.events) {
        event.bytes = match event.message() {
            Some(Message::Controller { channel, number: 1, value }) => {
                Message::Controller { channel, number: 1, value: 127 - value }.into()
            }
            Some(Message::NoteOn { channel, key, velocity }) => {
                Message::NoteOn { channel, key, velocity: 127 - velocity / 2 }.into()
            }
            _ => continue,
        };
    }
    (bytes, again)
}

#[test]
fn punched_in_four_places_and_peeled_it_is_the_take_as_punched() {
    let (bytes, new) = example_again();
    for target in ["generic", "perform-12"] {
        let request = Request { seed: 7, ..Request::new("erhu", target) };
        let mut shaped = shape_named(&bytes, &request).unwrap().bytes;
        let mut take = read(&bytes).unwrap();
        for place in ["5..6", "9..9", "12..14", "18..18"] {
            let before = read(&shaped).unwrap();
            let punched = punch_shaped(&shaped, &new, bars(place), &[], None).unwrap();
            take = punch(&take, &new, bars(place), &[]).unwrap();
            assert_eq!(read(&punched.take).unwrap(), take, "{target} {place}");
            shaped = punched.shaped.bytes;
            // Little before the bars, a record of messages inside, and little behind them.
            let [from, to] = punched.reach.expect("another line");
            let Bars { first, last } = bars(place);
            // Records of 60 messages each go on in another rhythm until a note stands as it was.
            let behind = if target == "generic" { 3 } else { 8 };
            let is_near = from.0 + 1 >= first && to.0 <= last.unwrap() + behind;
            assert!(is_near, "{target} {place}: {from:?} {to:?}");
            sounds_the_same_before(&before, &read(&shaped).unwrap(), first);
            outside_is_the_same(&before, &read(&shaped).unwrap(), from.0, to.0 + 1);
        }
        let peeled = peel(read(&shaped).unwrap()).unwrap();
        assert_eq!(peeled.leftovers, [""; 0]);
        assert_eq!(peeled.file, take, "{target}");
        // And it is what shaping the punched take makes.
        assert_eq!(shape_named(&write(&take).unwrap(), &request).unwrap().bytes, shaped);
    }
}

/// All that sounds up to a bar.
#[track_caller]
fn sounds_the_same_before(before: &File, after: &File, first: u64) {
    let start = polso::offline::midi::MetreMap::of(before).unwrap().bar_start(first);
    let own = |file: &File| -> Vec<TrackEvent> {
        let events = file.tracks.iter().flat_map(|track| &track.events);
        let is_own = |event: &&TrackEvent| event.tick < start && event.message().is_some();
        events.filter(is_own).cloned().collect()
    };
    assert_eq!(own(before), own(after));
}

/// Everything outside these bars, records too; the marker's digest is another.
#[track_caller]
fn outside_is_the_same(before: &File, after: &File, first: u64, end: u64) {
    let metre = polso::offline::midi::MetreMap::of(before).unwrap();
    let (start, end) = (metre.bar_start(first), metre.bar_start(end));
    for (before, after) in before.tracks.iter().zip(&after.tracks) {
        let own = |track: &Track| -> Vec<TrackEvent> {
            let is_outside = |event: &&TrackEvent| {
                !(start..end).contains(&event.tick)
                    && polso::offline::record::marker_text(event).is_none()
            };
            track.events.iter().filter(is_outside).cloned().collect()
        };
        assert_eq!(own(before), own(after));
    }
}

#[test]
fn a_shaped_take_that_cannot_be_shaped_again_as_it_was_is_refused() {
    let (bytes, new) = example_again();
    let own = settings("erhu", "generic");
    let shaped = shape_bytes(&bytes, &own).unwrap().bytes;
    let refused = |shaped: &[u8], given: Option<&polso::offline::Settings>| {
        punch_shaped(shaped, &new, bars("5..5"), &[], given).unwrap_err().to_string()
    };
    // The marker's hashes are of no file that there is.
    let text = refused(&shaped, None);
    let other = "its instrument erhu is not the one of that name here; give -i, -t and --wishes as it was \
        shaped with";
    assert_eq!(text, other);
    assert!(punch_shaped(&shaped, &new, bars("5..5"), &[], Some(&own)).is_ok());
    let mut other = own.clone();
    other.patch.seed = 8;
    assert!(refused(&shaped, Some(&other)).starts_with("its take, shaped again, is not this file"));
    let mut edited = read(&shaped).unwrap();
    edited.tracks[1].events.retain(|event| event.bytes[0] != 0xB0 || event.tick < 9000);
    edited.tracks[1].events.insert(0, TrackEvent { tick: 0, bytes: [0xB0, 64, 1][..].into() });
    let text = refused(&write(&edited).unwrap(), Some(&own));
    assert!(text.starts_with("the shaped take was edited since"), "{text}");
}

#[test]
fn the_program_punches_and_says_how_far() {
    let room = tempfile::tempdir().unwrap();
    let (bytes, new) = example_again();
    fs::write(room.path().join("old.mid"), &bytes).unwrap();
    fs::write(room.path().join("new.mid"), write(&new).unwrap()).unwrap();
    let polso = |line: &str| polso(room.path(), line);
    assert_eq!(
        polso("punch old.mid new.mid --bars 5..6 -o out.mid"),
        (Some(0), "bars 5..6 of new.mid punched in\n".to_owned())
    );
    assert_eq!(polso("shape old.mid -o shaped.mid -i erhu").0, Some(0));
    let (code, text) = polso("punch shaped.mid new.mid --bars 5..6 -o again.mid");
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("the shaped file is another from 4.4 to "), "{text}");
    let read = |name: &str| fs::read(room.path().join(name)).unwrap();
    assert_eq!(read("again.take.mid"), read("out.mid"));
    assert_eq!(polso("shape out.mid -o direct.mid -i erhu").0, Some(0));
    assert_eq!(read("again.mid"), read("direct.mid"));
    // The marker names the voices too.
    assert_eq!(polso("shape old.mid -o chords.mid -i erhu --voices chords").0, Some(0));
    let (code, text) = polso("punch chords.mid new.mid --bars 5..6 -o other.mid");
    assert_eq!(code, Some(0), "{text}");
    let exists = "out.mid: the file exists; --force overwrites it\n";
    assert_eq!(polso("punch old.mid new.mid --bars 5..6 -o out.mid"), (Some(2), exists.to_owned()));
    assert_eq!(polso("punch old.mid new.mid -o third.mid").0, Some(2));
    assert_eq!(polso("punch old.mid new.mid --bars 6..5 -o third.mid").0, Some(2));
    let sentence = "shaped.mid: the new take is shaped; peel it first\n";
    assert_eq!(
        polso("punch old.mid shaped.mid --bars 5..6 -o third.mid"),
        (Some(2), sentence.to_owned())
    );
    assert!(!room.path().join("third.mid").exists());
}

fn polso(folder: &Path, line: &str) -> (Option<i32>, String) {
    let words: Vec<&str> = line.split_whitespace().collect();
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    let output = command.args(words).current_dir(folder).output().unwrap();
    (output.status.code(), String::from_utf8([output.stdout, output.stderr].concat()).unwrap())
}
