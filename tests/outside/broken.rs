//! Shaped lines that are broken on purpose: each rule must find what was broken for it.

use super::invariants::{Case, Looked, RULES, Target};
use super::smf::{END_OF_TRACK, Event, File};

const TARGET: Target = Target {
    name: "broken",
    outputs: &[(11, 0, 127), (20, 10, 110)],
    keyswitches: &[12, 13],
    bend_cents: Some(200.0),
};

/// A track of literal events with its end.
fn track(events: &[(u64, &[u8])]) -> Vec<Event> {
    let mut track: Vec<Event> =
        events.iter().map(|(tick, bytes)| Event::new(*tick, bytes)).collect();
    let end = track.last().map_or(0, |event| event.tick);
    track.push(Event::new(end, &END_OF_TRACK));
    track
}

/// A forced-open note, slurred to a second, and after a second of rest a third, with a wheel.
fn played() -> File {
    let line = track(&[
        (0, &[0xFF, 0x03, b'a']),
        (0, &[0xB0, 7, 100]),
        (10, &[0xB0, 1, 20]),
        (480, &[0x90, 62, 80]),
        (960, &[0x90, 69, 80]),
        (970, &[0x80, 62, 64]),
        (1440, &[0x80, 69, 64]),
        (2400, &[0x90, 69, 80]),
        (2410, &[0xB0, 1, 30]),
        (2880, &[0x80, 69, 64]),
    ]);
    File { format: 1, ppq: 480, tracks: vec![track(&[(0, &[0xFF, 0x03, b's'])]), line] }
}

/// What may come out of it: 1920 ticks a second.
fn shaped() -> File {
    let line = track(&[
        (0, &[0xFF, 0x06, b'm']),
        (0, &[0xFF, 0x03, b'a']),
        (0, &[0xB0, 7, 100]),
        (0, &[0xB0, 11, 50]),
        (960, &[0x90, 12, 100]),
        (960, &[0x90, 62, 80]),
        (979, &[0x80, 12, 64]),
        (1100, &[0xE0, 10, 64]),
        (1920, &[0x90, 69, 80]),
        (1950, &[0x80, 62, 64]),
        (2500, &[0xE0, 0, 70]),
        (2880, &[0xB0, 20, 110]),
        (2900, &[0x80, 69, 64]),
        (3000, &[0xE0, 0, 64]),
        (4800, &[0x90, 69, 80]),
        (5700, &[0xE0, 0, 66]),
        (5760, &[0x80, 69, 64]),
        (5800, &[0xE0, 0, 64]),
    ]);
    File { format: 1, ppq: 960, tracks: vec![track(&[(0, &[0xFF, 0x03, b's'])]), line] }
}

/// Breaks the shaped line and names the rules that notice, and what the rules looked at.
fn noticed(broken: impl FnOnce(&mut File)) -> (Vec<&'static str>, Looked) {
    let (played, mut shaped) = (played(), shaped());
    broken(&mut shaped);
    shaped.tracks[1].sort_by_key(|event| event.tick);
    noticed_between(&played, &shaped)
}

fn noticed_between(played: &File, shaped: &File) -> (Vec<&'static str>, Looked) {
    let case = Case {
        played,
        shaped,
        track: 1,
        channel: 0,
        source: 1,
        range: (55, 96),
        forced_open: &[62],
        target: &TARGET,
    };
    let mut looked = Looked::default();
    let found = RULES.iter().filter(|(_, rule)| !rule(&case, &mut looked).is_empty());
    (found.map(|(name, _)| *name).collect(), looked)
}

#[track_caller]
fn check(rules: &[&str], broken: impl FnOnce(&mut File)) {
    assert_eq!(noticed(broken).0, rules);
}

fn replace(file: &mut File, old: (u64, &[u8]), new: (u64, &[u8])) {
    let old = Event::new(old.0, old.1);
    let event = file.tracks[1].iter_mut().find(|event| **event == old).expect("the event");
    *event = Event::new(new.0, new.1);
}

fn add(file: &mut File, tick: u64, bytes: &[u8]) {
    let end = file.tracks[1].len() - 1;
    file.tracks[1].insert(end, Event::new(tick, bytes));
}

fn remove(file: &mut File, tick: u64, bytes: &[u8]) {
    let old = Event::new(tick, bytes);
    file.tracks[1].retain(|event| *event != old);
}

#[test]
fn a_whole_line_breaks_no_rule() {
    let (found, looked) = noticed(|_| ());
    assert_eq!(found, [""; 0]);
    let Looked { notes, slurs, keyswitches, bends, rests, open_notes, messages, lengthened } =
        looked;
    let counts = [notes, slurs, keyswitches, bends, rests, open_notes, messages, lengthened];
    assert_eq!(counts, [3, 1, 1, 5, 1, 1, 7, 2]);
}

#[test]
fn a_late_lost_or_invented_note_is_noticed() {
    check(&["onsets"], |file| replace(file, (4800, &[0x90, 69, 80]), (4801, &[0x90, 69, 80])));
    check(&["onsets", "alternation", "bend in rests"], |file| remove(file, 4800, &[0x90, 69, 80]));
    check(&["onsets"], |file| {
        add(file, 5000, &[0x90, 70, 80]);
        add(file, 5100, &[0x80, 70, 64]);
    });
    check(&["onsets"], |file| file.ppq = 1000);
}

#[test]
fn a_hanging_or_doubled_note_is_noticed() {
    check(&["alternation"], |file| add(file, 5770, &[0x80, 69, 64]));
    check(&["alternation"], |file| remove(file, 5760, &[0x80, 69, 64]));
    check(&["onsets", "alternation"], |file| add(file, 5000, &[0x90, 69, 64]));
}

#[test]
fn a_shortened_note_is_noticed() {
    check(&["lengths"], |file| replace(file, (5760, &[0x80, 69, 64]), (5759, &[0x80, 69, 64])));
    check(&["lengths"], |file| replace(file, (1950, &[0x80, 62, 64]), (1939, &[0x80, 62, 64])));
}

/// 14-Last-journey of simutrans-data strikes one key twice at one tick.
#[test]
fn a_key_struck_twice_at_once_may_end_at_once() {
    let twice = |file: &mut File, on: u64| add(file, on, &[0x90, 69, 80]);
    let mut played = played();
    twice(&mut played, 2400);
    let mut shaped = shaped();
    let place = shaped.tracks[1].iter().position(|event| event.tick == 4800).expect("the note");
    shaped.tracks[1].insert(place + 1, Event::new(4800, &[0x80, 69, 64]));
    shaped.tracks[1].insert(place + 2, Event::new(4800, &[0x90, 69, 80]));
    played.tracks[1].sort_by_key(|event| event.tick);
    assert_eq!(noticed_between(&played, &shaped).0, [""; 0]);
}

/// 12-Steamin of simutrans-data joins a note and strikes a chord with it.
#[test]
fn a_keyswitch_may_make_room_for_the_next() {
    check(&[], |file| {
        replace(file, (979, &[0x80, 12, 64]), (1920, &[0x80, 12, 64]));
        let place = file.tracks[1].iter().position(|event| event.tick == 1920).expect("its off");
        file.tracks[1].insert(place + 1, Event::new(1920, &[0x90, 13, 100]));
        add(file, 1939, &[0x80, 13, 64]);
    });
}

#[test]
fn a_misplaced_or_held_keyswitch_is_noticed() {
    check(&["keyswitches"], |file| replace(file, (979, &[0x80, 12, 64]), (1000, &[0x80, 12, 64])));
    check(&["keyswitches"], |file| {
        replace(file, (960, &[0x90, 12, 100]), (959, &[0x90, 12, 100]));
    });
    check(&["keyswitches"], |file| {
        // After its note instead of before it.
        replace(file, (960, &[0x90, 12, 100]), (960, &[0x90, 13, 100]));
        replace(file, (979, &[0x80, 12, 64]), (979, &[0x80, 13, 64]));
        let place = file.tracks[1].iter().position(|event| event.bytes[..2] == [0x90, 13]);
        let place = place.expect("the keyswitch");
        file.tracks[1].swap(place, place + 1);
    });
}

#[test]
fn a_bend_in_a_rest_is_noticed() {
    check(&["bend in rests"], |file| remove(file, 3000, &[0xE0, 0, 64]));
    check(&["bend in rests"], |file| remove(file, 5800, &[0xE0, 0, 64]));
    check(&["bend in rests"], |file| {
        add(file, 4000, &[0xE0, 0, 65]);
        add(file, 4850, &[0xE0, 0, 64]);
    });
}

#[test]
fn a_bent_open_string_is_noticed() {
    // 41 steps of 8192 at ±200 cents are 1.001 cents.
    check(&["open strings"], |file| {
        replace(file, (1100, &[0xE0, 10, 64]), (1100, &[0xE0, 41, 64]))
    });
    check(&[], |file| replace(file, (1100, &[0xE0, 10, 64]), (1100, &[0xE0, 40, 64])));
    check(&["open strings"], |file| add(file, 900, &[0xE0, 0, 65]));
    check(&[], |file| replace(file, (1100, &[0xE0, 10, 64]), (1921, &[0xE0, 41, 64])));
}

#[test]
fn a_value_out_of_limits_or_a_foreign_message_is_noticed() {
    check(&["outputs"], |file| replace(file, (2880, &[0xB0, 20, 110]), (2880, &[0xB0, 20, 111])));
    check(&["outputs"], |file| add(file, 3000, &[0xB0, 20, 9]));
    check(&["outputs"], |file| add(file, 3000, &[0xB0, 21, 9]));
    check(&["outputs"], |file| add(file, 3000, &[0xD0, 21]));
    check(&["outputs"], |file| add(file, 3000, &[0xFF, 0x51, 7, 0, 0]));
}

#[test]
fn a_gesture_left_behind_is_noticed() {
    check(&["outputs", "gesture"], |file| add(file, 4820, &[0xB0, 1, 30]));
}

#[test]
fn a_lost_changed_or_moved_message_is_noticed() {
    check(&["outputs", "everything else"], |file| remove(file, 0, &[0xFF, 0x03, b'a']));
    check(&["outputs", "everything else"], |file| {
        replace(file, (0, &[0xB0, 7, 100]), (0, &[0xB0, 7, 101]));
    });
    check(&["outputs", "everything else"], |file| {
        replace(file, (0, &[0xB0, 7, 100]), (1, &[0xB0, 7, 100]));
    });
    check(&["everything else"], |file| file.format = 0);
    check(&["everything else"], |file| file.tracks[0].truncate(1));
    check(&["everything else"], |file| {
        file.tracks[0].insert(1, Event::new(0, &[0x90, 1, 1]));
    });
    check(&["everything else"], |file| file.tracks.push(Vec::new()));
}
