//! The line stands aside: everything passes as it came, and nothing is left sounding either way.

mod rehearsal;

use polso::engine::event::{Input, Message, Origin};
use rehearsal::{RATE_HZ, Score, Sent, patch, perform};

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
