//! Several lines in one section: each plays as it would alone, under one gesture or its own.

use polso_engine::patch::{Patch, Source};
use polso_engine::{Input, LINES_MAX, Message, Section};

use crate::music::still_body;
use crate::rehearsal::{RATE_HZ, Score, Sent, patch, patch_with, perform_on};

/// A phrase on one channel.
fn phrase(mut score: Score, channel: u8, start_s: f64, keys: &[u8]) -> Score {
    for (place, &key) in keys.iter().enumerate() {
        let on_s = start_s + 0.4 * place as f64;
        let on = Message::NoteOn { channel, key, velocity: 80 };
        let off = Message::NoteOff { channel, key, velocity: 64 };
        score = score.message(on_s, on).message(on_s + 0.45, off);
    }
    score
}

fn keys(channel: u8) -> [u8; 5] {
    [69, 72, 74, 71, 76].map(|key| key + channel % 4)
}

/// A wheel on channel 1 that swells and falls.
fn swell() -> Score {
    Score::new().wheel_follows(0.0, 4.0, |s| 0.5 - 0.5 * libm::cos(s * 1.7))
}

fn section(patch: &Patch, line_count: usize) -> Section {
    Section::with_lines(RATE_HZ, patch, line_count)
}

/// What was sent on one channel, as if it had been the first.
fn of_channel(sent: &[Sent], channel: u8) -> Vec<(u64, Message)> {
    let own = sent.iter().filter(|sent| sent.message.channel() == channel);
    own.map(|sent| {
        let (mut bytes, length) = sent.message.bytes();
        bytes[0] &= 0xF0;
        (sent.frame, Message::from_bytes(&bytes[..length]).expect("a message"))
    })
    .collect()
}

/// Every line of a section sends what a section of one line sends for its phrase alone.
#[track_caller]
fn check_each_alone(patch: &Patch, line_count: usize) {
    let mut all = swell();
    for channel in 0..line_count as u8 {
        all = phrase(all, channel, 0.3 + 0.07 * f64::from(channel), &keys(channel));
    }
    let sent = perform_on(&mut section(patch, line_count), RATE_HZ, &[441], &all, 6.0);
    for channel in 0..line_count as u8 {
        let start_s = 0.3 + 0.07 * f64::from(channel);
        let alone = phrase(swell(), 0, start_s, &keys(channel));
        let alone = perform_on(&mut section(patch, 1), RATE_HZ, &[441], &alone, 6.0);
        let alone: Vec<_> = alone.iter().map(|sent| (sent.frame, sent.message)).collect();
        assert!(alone.len() > 100);
        assert_eq!(of_channel(&sent, channel), alone, "line {channel} of {line_count}");
    }
}

#[test]
fn eight_lines_play_as_eight_sections_of_one() {
    // Without unevenness and the body's swing, since each line has a chance of its own.
    for target in ["perform", "generic"] {
        check_each_alone(&still_body(patch("erhu", target)), LINES_MAX);
        check_each_alone(&still_body(patch("violin", target)), 3);
    }
}

#[test]
fn lines_do_not_vibrate_in_lockstep() {
    let patch = patch_with("erhu", "perform", Source::Controller(1), 1, 1.0);
    let mut all = Score::new().wheel(0.0, 90);
    for channel in 0..2 {
        let on = Message::NoteOn { channel, key: 69, velocity: 80 };
        all = all.message(0.5, on);
    }
    let sent = perform_on(&mut section(&patch, 2), RATE_HZ, &[480], &all, 4.0);
    let (first, second) = (of_channel(&sent, 0), of_channel(&sent, 1));
    assert_ne!(first, second);
    // Their first notes begin alike all the same.
    assert_eq!(first.iter().find(is_on), second.iter().find(is_on));
}

fn is_on(sent: &&(u64, Message)) -> bool {
    matches!(sent.1, Message::NoteOn { .. })
}

#[test]
fn what_each_note_brings_is_its_own_lines_gesture() {
    for (source, press) in [
        (Source::MpePressure, pressure as fn(u8, u8) -> Message),
        (Source::MpeTimbre, timbre),
        (Source::PolyPressure, key_pressure),
    ] {
        let patch = patch_with("erhu", "perform", source, 1, 0.0);
        let mut engine = section(&patch, 2);
        let mut score = Score::new();
        for channel in 0..2 {
            score = score.message(0.1, Message::NoteOn { channel, key: 69, velocity: 80 });
        }
        score = score.message(0.2, press(0, 127)).message(0.2, press(1, 30));
        perform_on(&mut engine, RATE_HZ, &[480], &score, 1.0);
        let (first, second) = (engine.view_of(0).gesture, engine.view_of(1).gesture);
        assert!(first > 0.95 && second < 0.4, "{source:?}: {first}, {second}");
    }
}

fn pressure(channel: u8, value: u8) -> Message {
    Message::ChannelPressure { channel, value }
}

fn timbre(channel: u8, value: u8) -> Message {
    Message::Controller { channel, number: 74, value }
}

fn key_pressure(channel: u8, value: u8) -> Message {
    Message::PolyPressure { channel, key: 69, value }
}

#[test]
fn a_pedal_a_bend_and_an_end_concern_their_own_line_only() {
    let mut score = Score::new().wheel(0.0, 60);
    for channel in 0..2 {
        score = score.message(0.1, Message::NoteOn { channel, key: 69, velocity: 80 });
        score = score.message(1.5, Message::NoteOff { channel, key: 69, velocity: 64 });
    }
    // The first line's pedal holds its note; all notes off ends the second line's early.
    let pedal = Message::Controller { channel: 0, number: 64, value: 127 };
    let bend = Message::PitchBend { channel: 0, value: 16_383 };
    let end = Message::Controller { channel: 1, number: 123, value: 0 };
    let score = score.message(0.2, pedal).message(0.3, bend).message(1.0, end);
    let mut engine = section(&patch("erhu", "perform"), 2);
    let sent = perform_on(&mut engine, RATE_HZ, &[480], &score, 1.4);
    assert_eq!((engine.view_of(0).key, engine.view_of(1).key), (Some(69), None));
    let highest = |channel: u8| {
        let bends =
            of_channel(&sent, channel).into_iter().filter_map(|(_, message)| match message {
                Message::PitchBend { value, .. } => Some(value),
                _ => None,
            });
        bends.max().expect("a bend")
    };
    assert_eq!(highest(0), 16_383);
    assert!(highest(1) < 12_000);
}

#[test]
fn a_jump_and_a_panic_end_all_lines() {
    for ending in [
        Input::Panic,
        Input::Locate { beat: 8.0, tempo_bpm: 120.0, running: true },
        Input::Bypass(true),
    ] {
        let mut score = swell();
        for channel in 0..3 {
            score = score.message(0.5, Message::NoteOn { channel, key: 69, velocity: 80 });
        }
        let mut engine = section(&patch("erhu", "perform"), 3);
        perform_on(&mut engine, RATE_HZ, &[480], &score.at(1.0, ending), 2.0);
        assert!(!engine.owes_offs(), "{ending:?}");
        for line in 0..3 {
            assert_eq!(engine.view_of(line).key, None, "{ending:?}");
        }
    }
}

/// `90 C8 40` is no MIDI; it ended the process when a host sent it.
#[test]
fn a_key_that_no_wire_can_carry_is_passed_over_and_counted() {
    let strange = [
        Message::NoteOn { channel: 0, key: 200, velocity: 64 },
        Message::NoteOff { channel: 0, key: 200, velocity: 64 },
        Message::NoteOn { channel: 16, key: 60, velocity: 64 },
        Message::PolyPressure { channel: 0, key: 128, value: 1 },
        Message::Controller { channel: 0, number: 1, value: 255 },
        Message::Controller { channel: 255, number: 200, value: 0 },
        Message::PitchBend { channel: 0, value: 20_000 },
        Message::Program { channel: 0, program: 128 },
        Message::ChannelPressure { channel: 99, value: 0 },
    ];
    for is_bypassed in [false, true] {
        let mut score = Score::new().at(0.0, Input::Bypass(is_bypassed));
        for (place, message) in strange.into_iter().enumerate() {
            score = score.message(0.1 + 0.01 * place as f64, message);
        }
        // Together at one frame too, where they are put in order.
        for message in strange {
            score = score.message(0.5, message);
        }
        let score = score.note(1.0, 1.5, 69);
        let mut engine = section(&patch("erhu", "perform"), 1);
        let sent = perform_on(&mut engine, RATE_HZ, &[480], &score, 3.0);
        assert_eq!(engine.losses().refused_messages, 2 * strange.len() as u64);
        assert!(sent.iter().all(|sent| sent.message.is_whole()));
        assert_eq!(sent.iter().filter(|sent| is_on(&&(0, sent.message))).count(), 1);
    }
}

/// At 0 the first block never came to an end.
#[test]
fn a_sample_rate_out_of_range_is_the_nearest_within() {
    let score = Score::new().wheel(0.0, 90).note(0.1, 0.5, 69);
    let played = |rate_hz: f64, within_hz: f64| {
        let mut engine = Section::prepare(rate_hz, &patch("erhu", "perform"));
        perform_on(&mut engine, within_hz, &[512], &score, 1.0)
    };
    for strange in [0.0, -1.0, f64::NAN, f64::NEG_INFINITY, 7_999.0] {
        assert_eq!(played(strange, 8_000.0), played(8_000.0, 8_000.0), "{strange}");
    }
    assert_eq!(played(f64::INFINITY, 768_000.0), played(768_000.0, 768_000.0));
}

#[test]
fn a_section_has_one_to_eight_lines_and_shows_the_last_beyond_them() {
    let patch = patch("erhu", "perform");
    for (asked, lines) in [(0, 1), (1, 1), (3, 3), (8, 8), (99, 8)] {
        assert_eq!(section(&patch, asked).line_count(), lines);
    }
    let mut engine = section(&patch, 2);
    let on = Message::NoteOn { channel: 1, key: 74, velocity: 80 };
    perform_on(&mut engine, RATE_HZ, &[480], &Score::new().message(0.1, on), 0.2);
    let keys = [0, 1, 2, 99].map(|line| engine.view_of(line).key);
    assert_eq!(keys, [None, Some(74), Some(74), Some(74)]);
    assert_eq!(engine.view().key, None);
}

/// The first line also plays what is nobody's, and the channels go round after the last.
#[test]
fn a_line_has_the_channel_that_lies_as_many_after_the_home_channel() {
    let mut patch = patch("erhu", "perform");
    patch.home_channel = 14;
    for (channel, keys) in [
        (14, [Some(70), None, None]),
        (15, [None, Some(70), None]),
        (0, [None, None, Some(70)]),
        (1, [Some(70), None, None]),
        (13, [Some(70), None, None]),
    ] {
        let mut engine = section(&patch, 3);
        let on = Message::NoteOn { channel, key: 70, velocity: 80 };
        let sent = perform_on(&mut engine, RATE_HZ, &[480], &Score::new().message(0.1, on), 0.2);
        assert_eq!([0, 1, 2].map(|line| engine.view_of(line).key), keys, "channel {channel}");
        let bend = sent.iter().find(|it| matches!(it.message, Message::PitchBend { .. }));
        assert_eq!(bend.map(|it| it.message.channel()), Some(14), "the first line is told first");
    }
}

#[test]
fn a_kept_articulation_is_given_back_if_it_is_one() {
    let mut engine = section(&patch("erhu", "perform"), 1);
    for (kept, has) in [(Some(0), Some(0)), (Some(15), Some(15)), (Some(16), None), (None, None)] {
        engine.restore_articulation(kept);
        assert_eq!(engine.articulation(), has);
    }
    let choose = |place| Score::new().at(0.0, Input::Articulation(place));
    perform_on(&mut engine, RATE_HZ, &[480], &choose(3), 0.1);
    assert_eq!(engine.articulation(), Some(3));
    perform_on(&mut engine, RATE_HZ, &[480], &choose(16), 0.1);
    assert_eq!(engine.articulation(), Some(3));
}

/// Each of two lines under a pressure of its own goes on from there when other settings come.
#[test]
fn other_settings_leave_every_line_its_own_gesture() {
    let patch = still_body(patch_with("erhu", "perform", Source::MpePressure, 1, 0.0));
    let press = |channel, value| Message::ChannelPressure { channel, value };
    let mut score = Score::new();
    for (channel, value) in [(0, 30), (1, 110)] {
        let on = Message::NoteOn { channel, key: 70 + channel, velocity: 80 };
        score = score.message(0.1, on).message(0.12, press(channel, value));
    }
    let mut section = section(&patch, 2);
    perform_on(&mut section, RATE_HZ, &[64], &score, 1.0);
    let before = [0, 1].map(|line| section.view_of(line).dynamics);
    assert!(before[1] - before[0] > 0.3, "{before:?}");
    section.load(&patch);
    perform_on(&mut section, RATE_HZ, &[64], &Score::new(), 0.003);
    let after = [0, 1].map(|line| section.view_of(line).dynamics);
    assert!(
        before.iter().zip(after).all(|(one, other)| (one - other).abs() < 1e-3),
        "{before:?} {after:?}"
    );
}
