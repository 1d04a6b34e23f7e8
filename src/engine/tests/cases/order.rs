//! What happens at one frame: offs, controllers, the bend, pressure, notes, however it is handed over.

use polso_engine::patch::Patch;
use polso_engine::{Message, Phrase, Section};

use crate::music::{bare, strike, words};
use crate::rehearsal::{RATE_HZ, Score, perform, perform_on};

/// Notes as they are struck, and nothing of its own.
fn notes_only() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    (patch.dynamics.velocity_share, patch.tail.tail_s) = (0.0, 0.0);
    patch
}

fn off(channel: u8, key: u8) -> Message {
    Message::NoteOff { channel, key, velocity: 64 }
}

fn pedal(channel: u8) -> Message {
    Message::Controller { channel, number: 64, value: 127 }
}

/// What goes out at 1 s when these come together, after what came before.
#[track_caller]
fn check(before: Score, together: &[Message], expected: &[&str]) {
    let play = |messages: &mut dyn Iterator<Item = &Message>| {
        let score = messages.fold(before.clone(), |score, message| score.message(1.0, *message));
        let sent = perform(&notes_only(), RATE_HZ, &[64], &score, 1.2);
        words(&sent).into_iter().filter(|word| word.ends_with("@ 1000")).collect::<Vec<_>>()
    };
    let expected: Vec<String> = expected.iter().map(|word| format!("{word} @ 1000")).collect();
    assert_eq!(play(&mut together.iter()), expected);
}

#[test]
fn offs_come_first_then_controllers_bend_pressure_and_notes() {
    let all = [
        strike(74, 64),
        Message::ChannelPressure { channel: 0, value: 5 },
        Message::PolyPressure { channel: 0, key: 70, value: 6 },
        Message::PitchBend { channel: 0, value: 9000 },
        Message::Controller { channel: 0, number: 99, value: 1 },
        Message::Program { channel: 0, program: 3 },
        off(0, 70),
    ];
    let expected =
        ["off 70", "cc 99 1", "program 3", "bend 9000", "pressure 5", "pressure 70 6", "on 74 64"];
    check(Score::new().wheel(0.0, 60).on(0.5, 70), &all, &expected);
}

/// An off that would find nothing to end waits for its note.
#[test]
fn an_off_waits_for_a_note_of_its_own_frame_only_where_it_would_find_none() {
    let wheel = || Score::new().wheel(0.0, 60);
    check(wheel(), &[strike(70, 64), off(0, 70)], &["on 70 64", "off 70"]);
    check(wheel().on(0.5, 70), &[strike(70, 64), off(0, 70)], &["off 70", "on 70 64"]);
    let twice = [strike(70, 64), off(0, 70), off(0, 70)];
    check(wheel().on(0.5, 70), &twice, &["off 70", "on 70 64", "off 70"]);
    // It is another key's, or another channel's.
    check(wheel().on(0.5, 70), &[strike(74, 64), off(0, 70)], &["off 70", "on 74 64"]);
    let elsewhere = Message::NoteOn { channel: 3, key: 70, velocity: 64 };
    check(wheel().on(0.5, 70), &[elsewhere, off(0, 70)], &["off 70", "on 70 64"]);
    // One that comes before its note found nothing, and nothing is owed.
    check(wheel(), &[off(0, 70), strike(70, 64)], &["on 70 64"]);
}

/// Where the phrase stands after these.
#[track_caller]
fn check_phrase(together: &[Message], phrase: Phrase) {
    let mut engine = Section::prepare(RATE_HZ, &notes_only());
    let score = Score::new().wheel(0.0, 60).on(0.8, 70);
    let score = together.iter().fold(score, |score, message| score.message(1.0, *message));
    perform_on(&mut engine, RATE_HZ, &[64], &score, 1.2);
    assert_eq!(engine.view().phrase, phrase, "{together:?}");
}

/// The pedal catches what comes up at its own frame, if it is handed over first.
#[test]
fn a_pedal_before_an_off_of_one_frame_holds_the_note() {
    check_phrase(&[off(0, 70)], Phrase::Rest);
    check_phrase(&[pedal(0), off(0, 70)], Phrase::Sounding);
    check_phrase(&[off(0, 70), pedal(0)], Phrase::Rest);
    check_phrase(&[pedal(5), off(0, 70)], Phrase::Rest);
    let other = Message::Controller { channel: 0, number: 65, value: 127 };
    check_phrase(&[other, off(0, 70)], Phrase::Rest);
}
