//! What a receiver is told again, and when: after others' messages, another sound, a new key, the last of a motion.

use polso_engine::patch::{Address, ChoicePatch, ModePatch, OutputPatch, Patch, SlidePatch};
use polso_engine::{Input, LINES_MAX, Layer, Message, Section};

use crate::music::{bare, controller, only, song, time_s, with, words};
use crate::rehearsal::{RATE_HZ, Score, Sent, output, perform, perform_on, watch};

fn one(address: Address) -> Patch {
    only(bare("erhu", "generic"), output(Layer::Gesture, address, 0.0, 1.0))
}

/// What goes out after a time, in words.
fn after(sent: &[Sent], from_s: f64) -> Vec<String> {
    let late = sent.iter().filter(|it| time_s(it) > from_s - 1e-9).copied();
    words(&late.collect::<Vec<_>>())
}

/// Someone else sends to the address at 1 s: the number is said again at the next tick.
#[test]
fn a_number_that_someone_else_has_overwritten_is_said_again() {
    let score = |message| Score::new().gesture(0.0, 1.0).on(0.5, 70).message(1.0005, message);
    let check = |address, message, expected: &[&str]| {
        let sent = perform(&one(address), RATE_HZ, &[64], &score(message), 1.5);
        let found = after(&sent, 1.0);
        assert_eq!(
            found[1..],
            expected.iter().map(|it| format!("{it} @ 1001")).collect::<Vec<_>>()
        );
    };
    check(Address::Controller(20), controller(20, 3), &["cc 20 127"]);
    check(Address::Controller(20), controller(21, 3), &[]);
    let both = ["cc 20 127", "cc 52 127"];
    check(Address::ControllerPair(20), controller(20, 3), &both);
    check(Address::ControllerPair(20), controller(52, 3), &both);
    check(Address::ControllerPair(20), controller(53, 3), &[]);
    let press = Message::ChannelPressure { channel: 0, value: 3 };
    check(Address::ChannelPressure, press, &["pressure 127"]);
    check(Address::Controller(20), press, &[]);
    let press = Message::PolyPressure { channel: 0, key: 70, value: 3 };
    check(Address::PolyPressure, press, &["pressure 70 127"]);
    check(Address::ChannelPressure, press, &[]);
    let program = Message::Program { channel: 0, program: 3 };
    // Another sound is told everything 50 ms later besides.
    let sent = perform(&one(Address::Program), RATE_HZ, &[64], &score(program), 1.5);
    assert_eq!(after(&sent, 1.0), ["program 3 @ 1001", "program 127 @ 1001", "program 127 @ 1051"]);
}

/// A receiver that changes its sound is told everything 50 ms later, and how the note joined.
#[test]
fn another_sound_is_told_everything_again_after_fifty_milliseconds() {
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    let mut by_keys = one(Address::Controller(20));
    by_keys.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held: false };
    let mut by_slide = one(Address::Controller(20));
    by_slide.target.slide = Some(SlidePatch { time: 40, says_source_key: true });
    let program = Message::Program { channel: 0, program: 3 };
    let score = |message| Score::new().gesture(0.0, 1.0).on(0.5, 70).message(1.0, message);
    let check = |patch: &Patch, message, expected: &[&str]| {
        let sent = perform(patch, RATE_HZ, &[64], &score(message), 1.5);
        assert_eq!(after(&sent, 1.001), expected);
    };
    let keyed = ["cc 20 127 @ 1050", "switch 24 @ 1050", "unswitch 24 @ 1060"];
    check(&by_keys, program, &keyed);
    check(&by_slide, program, &["cc 20 127 @ 1050", "cc 65 0 @ 1050"]);
    check(&one(Address::Controller(20)), program, &["cc 20 127 @ 1050"]);
    for bank in [0, 32] {
        check(&by_keys, controller(bank, 5), &keyed);
    }
    check(&by_keys, controller(33, 5), &[]);
    // Between notes the mode waits for the note that needs it.
    let score = Score::new().gesture(0.0, 1.0).note(0.2, 0.3, 70).message(1.0, program);
    let mut silent = by_keys;
    silent.dynamics.velocity_share = 0.0;
    let sent = perform(&silent, RATE_HZ, &[64], &score.on(1.4, 70), 1.45);
    let words = after(&sent, 1.001);
    let expected =
        ["cc 20 127 @ 1050", "switch 24 @ 1400", "on 70 64 @ 1400", "unswitch 24 @ 1410"];
    assert_eq!(words, expected);
}

#[test]
fn a_new_key_is_told_its_pressure_after_its_note_and_an_old_one_that_comes_back() {
    let mut patch = one(Address::PolyPressure);
    patch.dynamics.velocity_share = 0.0;
    let score = Score::new().gesture(0.0, 0.5).on(0.5, 70).on(1.0, 74).off(1.5, 74);
    let sent = perform(&patch, RATE_HZ, &[64], &score, 2.0);
    let expected = [
        "on 70 64 @ 500",
        "pressure 70 64 @ 500",
        "on 74 64 @ 1000",
        "pressure 74 64 @ 1000",
        "off 74 @ 1500",
        "pressure 70 64 @ 1500",
    ];
    let found = words(&sent);
    assert_eq!(found[..5], expected[..5]);
    assert!(found[5].starts_with("pressure 70 64 @ 150"), "{found:?}");
    // At rest there is no key to press.
    let score = Score::new().gesture(0.0, 0.5).note(0.5, 0.6, 70).gesture(1.0, 1.0);
    let sent = perform(&patch, RATE_HZ, &[64], &score, 2.0);
    assert_eq!(after(&sent, 0.7), [""; 0]);
}

/// A slow output has still to send the last of a motion when everything else stands.
#[test]
fn the_last_number_of_a_motion_goes_out_however_long_the_output_waits() {
    for interval_s in [0.05, 0.2, 0.7] {
        let mut patch = one(Address::Controller(20));
        patch.target.outputs[0].interval_s = interval_s;
        let score = Score::new().gesture(0.0, 0.2).gesture(0.0305, 0.9);
        let sent = perform(&patch, RATE_HZ, &[64], &score, 2.0);
        let said = crate::music::said(&sent, 20);
        assert_eq!(said.last().map(|it| it.1), Some(114), "{interval_s}: {said:?}");
    }
}

/// Everything that a line made of a channel goes home; other channels are nobody's business.
#[test]
fn an_end_centres_the_lines_own_bend_and_lifts_the_pedals_that_are_down() {
    let patch = bare("violin", "perform");
    let pedal = |channel, value| Message::Controller { channel, number: 64, value };
    let score = Score::new().at(0.0, song(0.0)).gesture(0.0, 1.0).on(0.1, 70);
    let score = score.message(0.2, pedal(3, 64)).message(0.2, pedal(5, 127));
    let score = score.message(0.3, pedal(5, 63)).message(0.3, pedal(7, 63));
    let score = score.at(1.537, Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: false });
    let sent = perform(&patch, RATE_HZ, &[64], &score, 1.5375);
    let at_end = sent.iter().filter(|it| time_s(it) > 1.5365 && !is_level(it));
    let found: Vec<Message> = at_end.map(|it| it.message).collect();
    let off = Message::NoteOff { channel: 0, key: 70, velocity: 64 };
    let home = Message::PitchBend { channel: 0, value: 8192 };
    // The jump tells the bend once more.
    assert_eq!(found, [off, pedal(3, 0), home, home]);
}

fn is_level(sent: &Sent) -> bool {
    matches!(sent.message, Message::Controller { number: 11, .. })
}

/// MIDI 1.0 channel mode messages end what has passed too.
#[test]
fn all_notes_off_ends_what_passed_while_the_line_stood_aside() {
    for mode in [120, 123] {
        let score = Score::new().at(0.0, Input::Bypass(true)).on(0.1, 60).on(0.2, 64);
        let score = score.controller(0.5, mode, 0).off(0.7, 60);
        let sent = perform(&one(Address::Controller(20)), RATE_HZ, &[64], &score, 1.0);
        let expected =
            ["off 60 @ 500".to_owned(), "off 64 @ 500".to_owned(), format!("cc {mode} 0 @ 500")];
        assert_eq!(after(&sent, 0.4), expected);
    }
}

/// The first value after a jump is taken at once by every layer.
#[test]
fn after_a_jump_in_silence_every_layer_stands_where_the_hand_is() {
    let locate = Input::Locate { beat: 8.0, tempo_bpm: 120.0, running: true };
    let score = Score::new().wheel(0.0, 10).at(1.0, locate).wheel(1.2, 100);
    let (views, _) = watch(&bare("erhu", "perform"), &score, 1.3);
    let view = crate::music::at(&views, 1.201);
    let gesture = 100.0 / 127.0;
    assert_eq!(view.gesture, gesture);
    assert!((view.dynamics - (0.12 + 0.88 * gesture)).abs() < 1e-9, "{}", view.dynamics);
    assert!((view.weights[2] - 0.28).abs() < 0.05 && view.weights[0] == 0.0, "{:?}", view.weights);
    assert!(view.rate_hz > 5.0, "{}", view.rate_hz);
}

/// Each line's number goes on from where it stands, under the gesture of all.
#[test]
fn other_settings_in_mid_note_do_not_move_the_other_lines_number() {
    let patch = one(Address::Controller(20));
    let mut engine = Section::with_lines(RATE_HZ, &patch, LINES_MAX);
    let mut score = Score::new().gesture(0.0, 0.8);
    for channel in 0..3 {
        score = score.message(0.1, Message::NoteOn { channel, key: 70, velocity: 64 });
    }
    perform_on(&mut engine, RATE_HZ, &[64], &score, 0.5);
    engine.load(&patch);
    let sent = perform_on(&mut engine, RATE_HZ, &[64], &Score::new(), 0.2);
    let values: Vec<u8> = sent
        .iter()
        .filter_map(|it| match it.message {
            Message::Controller { number: 20, value, .. } => Some(value),
            _ => None,
        })
        .collect();
    assert!(values.len() >= LINES_MAX && values.iter().all(|value| *value == 102), "{values:?}");
}

/// Velocity goes out with its note where an output drives it.
#[test]
fn an_output_may_drive_the_velocity() {
    let mut patch = with(
        one(Address::Controller(20)),
        OutputPatch { min: 10, ..output(Layer::Gesture, Address::Velocity, 0.0, 1.0) },
    );
    patch.target.mode = ChoicePatch::Silent;
    for (gesture, velocity) in [(0.0, 10), (0.5, 69), (1.0, 127)] {
        let score = Score::new().gesture(0.0, gesture).on(0.5, 70);
        let sent = perform(&patch, RATE_HZ, &[64], &score, 0.6);
        assert_eq!(after(&sent, 0.45), [format!("on 70 {velocity} @ 500")]);
    }
}
