//! A performance woven into its take, by hand: the order within a tick, and the way back.

use polso::engine::event::{Layer, Message, Origin};
use polso::offline::ledger::Record;
use polso::offline::midi::{Bytes, Event, Track};
use polso::offline::perform::{Fed, Sent};
use polso::offline::weave::{Fate, Strand, weave};

fn on(key: u8, velocity: u8) -> Message {
    Message::NoteOn { channel: 0, key, velocity }
}

fn off(key: u8) -> Message {
    Message::NoteOff { channel: 0, key, velocity: 64 }
}

fn controller(number: u8, value: u8) -> Message {
    Message::Controller { channel: 0, number, value }
}

const DYNAMICS: Origin = Origin::Layer(Layer::Dynamics);

/// Weaves a take of messages (all heard by the engine) with what the engine sends, and shows the
/// new track in words.
fn check(take: &[(u64, Message)], sent: &[(u64, Message, Origin)], expected: &[&str]) {
    let events = |bytes: Bytes, tick: u64| Event { tick, bytes };
    let track = Track {
        events: take.iter().map(|(tick, message)| events((*message).into(), *tick)).collect(),
        end_tick: take.last().map_or(0, |(tick, _)| *tick),
    };
    let fed: Vec<Fed> = take
        .iter()
        .enumerate()
        .map(|(index, (tick, message))| Fed { tick: *tick, track: 0, index, message: *message })
        .collect();
    let fate = |(tag, fed): (usize, &Fed)| match fed.message {
        Message::NoteOn { .. } | Message::NoteOff { .. } => Fate::Note,
        _ if sent.iter().any(|sent| sent.2 == Origin::Passed(tag as u32)) => Fate::Passed,
        _ => Fate::Consumed,
    };
    let fates: Vec<Fate> = fed.iter().enumerate().map(fate).collect();
    let sent: Vec<Sent> = sent
        .iter()
        .map(|(tick, message, origin)| Sent { tick: *tick, message: *message, origin: *origin })
        .collect();
    let woven = weave(&track, &fates, &[Strand { fed: &fed, sent: &sent }], 0);
    let words: Vec<String> = woven.events.iter().map(words).collect();
    assert_eq!(words, expected);
}

fn words(event: &Event) -> String {
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02X}")).collect::<String>();
    match Record::of(event) {
        Some(Record::Kept(bytes)) => format!("{} kept {}", event.tick, hex(&bytes)),
        Some(Record::Added { checks, .. }) => format!("{} added {}", event.tick, checks.len()),
        Some(Record::End) => format!("{} end", event.tick),
        None => format!("{} {}", event.tick, hex(&event.bytes)),
    }
}

#[test]
fn a_note_that_comes_out_as_it_went_in_stays_itself() {
    check(
        &[(0, on(60, 80)), (96, off(60))],
        &[(0, on(60, 80), Origin::Note(0)), (96, off(60), Origin::Note(0))],
        &["0 903C50", "96 803C40"],
    );
}

#[test]
fn a_note_on_of_velocity_0_stays_an_off_of_that_kind() {
    let mut bytes = Bytes::from(on(60, 1));
    if let Bytes::Short(short, _) = &mut bytes {
        short[2] = 0;
    }
    let event = Event { tick: 96, bytes };
    assert_eq!(event.message(), Some(off(60)), "MIDI 1.0: a note-off with velocity 64");
}

#[test]
fn a_changed_velocity_and_a_moved_off_leave_records() {
    check(
        &[(0, on(60, 80)), (96, off(60))],
        &[(0, on(60, 70), Origin::Note(0)), (120, off(60), Origin::Note(0))],
        &["0 added 2", "0 903C46", "0 kept 903C50", "96 kept 803C40", "96 end", "120 803C40"],
    );
}

#[test]
fn the_gesture_becomes_records_and_the_outputs_stand_before_their_note() {
    check(
        &[(0, controller(1, 64)), (0, on(60, 80)), (10, controller(1, 65)), (96, off(60))],
        &[
            (0, controller(11, 90), DYNAMICS),
            (0, on(60, 80), Origin::Note(1)),
            (12, controller(11, 91), DYNAMICS),
            (96, off(60), Origin::Note(1)),
        ],
        &[
            "0 added 1",
            "0 B00B5A",
            "0 kept B00140",
            "0 903C50",
            "10 kept B00141",
            "12 added 1",
            "12 B00B5B",
            "96 803C40",
        ],
    );
}

#[test]
fn what_passes_keeps_its_order_also_where_the_engine_has_another() {
    // In the take the note comes before the pedal; the engine plays the pedal first.
    check(
        &[(0, on(60, 80)), (0, controller(64, 127)), (0, controller(7, 100)), (96, off(60))],
        &[
            (0, controller(64, 127), Origin::Passed(1)),
            (0, controller(7, 100), Origin::Passed(2)),
            (0, on(60, 80), Origin::Note(0)),
            (96, off(60), Origin::Note(0)),
        ],
        &["0 kept 903C50", "0 B0407F", "0 B00764", "0 added 1", "0 903C50", "96 803C40"],
    );
}

#[test]
fn an_off_that_the_engine_plays_before_a_passing_message_is_kept_behind_it() {
    check(
        &[(0, on(60, 80)), (96, controller(64, 0)), (96, off(60))],
        &[
            (0, on(60, 80), Origin::Note(0)),
            (96, off(60), Origin::Note(0)),
            (96, controller(64, 0), Origin::Passed(1)),
        ],
        &["0 903C50", "96 added 1", "96 803C40", "96 B04000", "96 kept 803C40"],
    );
}

#[test]
fn the_offs_of_one_tick_stay_themselves_as_far_as_their_order_does() {
    let ons = [(0, on(60, 80)), (0, on(64, 80)), (0, on(60, 80))];
    let played = ons.iter().enumerate().map(|(tag, (_, on))| (0, *on, Origin::Note(tag as u32)));
    let sent = |keys: [u8; 3]| {
        let offs = keys.map(|key| (96, off(key), Origin::Note(0)));
        played.clone().chain(offs).collect::<Vec<_>>()
    };
    let take = [&ons[..], &[(96, off(60)), (96, off(64)), (96, off(60))]].concat();
    let ons = ["0 903C50", "0 904050", "0 903C50"];
    let as_played = ["96 803C40", "96 804040", "96 803C40"];
    check(&take, &sent([60, 64, 60]), &[&ons[..], &as_played].concat());
    let other = ["96 kept 803C40", "96 804040", "96 803C40", "96 added 1", "96 803C40"];
    check(&take, &sent([64, 60, 60]), &[&ons[..], &other].concat());
}

#[test]
fn a_long_run_of_outputs_is_told_in_records_of_60() {
    let sent: Vec<(u64, Message, Origin)> =
        (0..130).map(|step| (step, controller(11, step as u8 % 128), DYNAMICS)).collect();
    let track = Track { events: Vec::new(), end_tick: 200 };
    let sent: Vec<Sent> = sent
        .iter()
        .map(|(tick, message, origin)| Sent { tick: *tick, message: *message, origin: *origin })
        .collect();
    let woven = weave(&track, &[], &[Strand { fed: &[], sent: &sent }], 0);
    let counts: Vec<usize> = woven
        .events
        .iter()
        .filter_map(|event| match Record::of(event) {
            Some(Record::Added { checks, .. }) => Some(checks.len()),
            _ => None,
        })
        .collect();
    assert_eq!(counts, [60, 60, 10]);
    assert_eq!(woven.end_tick, 200);
}
