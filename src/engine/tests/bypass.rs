//! The line stands aside: everything passes as it came, and nothing is left sounding either way.

use crate::rehearsal::{RATE_HZ, Score, Sent, patch, perform};
use polso_engine::patch::Address;
use polso_engine::{Input, Layer, Message, Origin};

fn play(score: &Score, end_s: f64) -> Vec<Sent> {
    perform(&patch("erhu", "generic"), RATE_HZ, &[64, 1, 300], score, end_s)
}

/// Frames of a time.
fn frame(seconds: f64) -> u64 {
    (seconds * RATE_HZ).round() as u64
}

#[test]
fn bypassed_from_the_start_it_adds_nothing() {
    let score = Score::new().at(0.0, Input::Bypass(true));
    let bend = Message::PitchBend { channel: 2, value: 9000 };
    let score = score.wheel(0.1, 80).note(0.2, 1.5, 70).controller(0.3, 11, 50);
    let score = score.message(0.4, bend).note(2.0, 2.1, 70);
    let sent = play(&score, 4.0);
    let expected = score.timed(RATE_HZ).into_iter().filter_map(|(at, timed)| match timed.input {
        Input::Midi(message) => Some((at, message)),
        _ => None,
    });
    let heard: Vec<(u64, Message)> = sent.iter().map(|it| (it.frame, it.message)).collect();
    assert_eq!(heard, expected.collect::<Vec<_>>());
}

#[test]
fn what_sounds_is_ended_at_both_switches() {
    let score = Score::new().wheel(0.0, 80).on(0.1, 70);
    let score = score.at(1.0, Input::Bypass(true)).off(1.2, 70).on(1.3, 74);
    let score = score.at(2.0, Input::Bypass(false)).off(2.2, 74).note(3.0, 3.2, 70);
    let sent = play(&score, 5.0);
    let notes = sent.iter().filter_map(|it| match it.message {
        Message::NoteOn { key, .. } => Some((it.frame, key, true)),
        Message::NoteOff { key, .. } => Some((it.frame, key, false)),
        _ => None,
    });
    let expected = [
        (0.1, 70, true),
        (1.0, 70, false),
        (1.3, 74, true),
        (2.0, 74, false),
        (3.0, 70, true),
        (3.2, 70, false),
    ];
    assert_eq!(notes.collect::<Vec<_>>(), expected.map(|(at, key, on)| (frame(at), key, on)));
}

#[test]
fn a_song_that_runs_on_ends_nothing_while_the_line_stands_aside() {
    let song = |beat: f64, running| Input::Song { beat, tempo_bpm: 120.0, running };
    let score = Score::new().at(0.0, Input::Bypass(true)).at(0.1, song(0.0, true)).on(0.2, 70);
    let score = score.at(0.5, song(0.8, true));
    let offs = |sent: &[Sent]| {
        let off = |it: &&Sent| matches!(it.message, Message::NoteOff { .. });
        sent.iter().filter(off).map(|it| it.frame).collect::<Vec<_>>()
    };
    assert_eq!(offs(&play(&score, 1.0)), [0; 0]);
    assert_eq!(offs(&play(&score.clone().at(0.7, song(1.2, false)), 1.0)), [frame(0.7)]);
    // A song that stands and is moved has nothing to end: the note is a hand's.
    let score = Score::new().at(0.0, Input::Bypass(true)).on(0.2, 70).at(0.5, song(8.0, false));
    assert_eq!(offs(&play(&score, 1.0)), [0; 0]);
}

#[test]
fn on_return_every_output_is_sent_again_from_where_the_hand_is() {
    let with = |from: u8| {
        let score = Score::new().wheel(0.0, from).at(1.0, Input::Bypass(true)).wheel(1.5, 100);
        play(&score.at(2.0, Input::Bypass(false)), 4.0)
    };
    let sent = with(10);
    let aside = sent.iter().filter(|it| (frame(1.0)..frame(2.0)).contains(&it.frame));
    assert!(aside.clone().count() > 0);
    for it in aside.filter(|it| it.frame > frame(1.0)) {
        assert!(matches!(it.origin, Origin::Passed(_)), "{it:?}");
    }
    let layers = sent.iter().filter(|it| it.frame == frame(2.0));
    let layers = layers.filter(|it| matches!(it.origin, Origin::Layer(_))).count();
    let first = sent.iter().filter(|it| it.frame == 0);
    let first = first.filter(|it| matches!(it.origin, Origin::Layer(_))).count();
    assert!(layers >= 5, "{layers} outputs come back, {first} at the start");
    let level = |sent: &[Sent]| {
        let level = sent.iter().rev().find_map(|it| match it.message {
            Message::Controller { number: 11, value, .. } => Some(value),
            _ => None,
        });
        level.expect("a level")
    };
    assert_eq!(level(&sent), level(&with(100)), "the hand was watched meanwhile");
}

/// It stood aside with the expression at nothing, and the receiver stayed silent.
#[test]
fn stepping_aside_in_a_niente_leaves_the_receiver_at_full_expression_and_in_tune() {
    let level = |sent: &[Sent], number: u8| {
        let value = |it: &Sent| match it.message {
            Message::Controller { number: n, value, .. } if n == number => Some(value),
            _ => None,
        };
        sent.iter().rev().find_map(value)
    };
    let bend = |sent: &[Sent]| {
        let value = |it: &Sent| match it.message {
            Message::PitchBend { value, .. } => Some(value),
            _ => None,
        };
        sent.iter().rev().find_map(value)
    };
    let mut patch = patch("violin", "perform");
    let mut expression =
        crate::rehearsal::output(Layer::Expression, Address::Controller(2), 0.0, 1.0);
    expression.rest = 127;
    patch.target.outputs[patch.target.output_count] = expression;
    patch.target.output_count += 1;
    // The level and the bend are somewhere, then the hand goes to nothing.
    let score = Score::new().wheel(0.0, 90).on(0.1, 70).wheel(1.5, 0);
    let before = perform(&patch, RATE_HZ, &[64], &score, 2.5);
    assert_eq!(level(&before, 2), Some(0), "niente");
    let aside = perform(&patch, RATE_HZ, &[64], &score.clone().at(2.5, Input::Bypass(true)), 3.0);
    assert_eq!(
        (level(&aside, 2), level(&aside, 11), bend(&aside)),
        (Some(127), Some(127), Some(8192))
    );
    assert!(aside.iter().any(|it| it.frame == frame(2.5) && it.message == off(70)));
    // In full vibrato the bend goes home.
    let score = Score::new().wheel(0.0, 90).on(0.1, 70).at(1.537, Input::Bypass(true));
    let swinging = perform(&patch, RATE_HZ, &[64], &score, 1.537);
    assert_ne!(bend(&swinging), Some(8192), "it swings");
    let aside = perform(&patch, RATE_HZ, &[64], &score, 2.0);
    assert_eq!(bend(&aside), Some(8192));
}

/// Notes of the song went on sounding when it stopped while everything passed.
#[test]
fn a_stop_while_it_stands_aside_ends_the_songs_notes_and_pedal_and_leaves_a_hands_key() {
    let song = |running| Input::Song { beat: 0.0, tempo_bpm: 120.0, running };
    let strike = |key| Message::NoteOn { channel: 0, key, velocity: 64 };
    let score = Score::new().at(0.0, Input::Bypass(true)).on(0.1, 60).at(0.2, song(true));
    let score = score.at(0.3, Input::Live(strike(64))).on(0.4, 67).controller(0.5, 64, 127);
    let score = score.at(1.0, song(false)).off(1.5, 60).off(1.6, 64).off(1.7, 67);
    let sent = play(&score, 2.0);
    let after: Vec<_> = sent.iter().filter(|it| it.frame >= frame(1.0)).collect();
    let heard: Vec<(u64, Message)> = after.iter().map(|it| (it.frame, it.message)).collect();
    let up = Message::Controller { channel: 0, number: 64, value: 0 };
    let expected = [(1.0, off(67)), (1.0, up), (1.5, off(60)), (1.6, off(64))];
    assert_eq!(heard, expected.map(|(at, message)| (frame(at), message)));
}

fn off(key: u8) -> Message {
    Message::NoteOff { channel: 0, key, velocity: 64 }
}
