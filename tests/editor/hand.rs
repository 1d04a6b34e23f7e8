//! A controller is learned by moving it, and measured in thirty seconds.

use polso::editor::learn::SourceLearner;
use polso::engine::event::Message;
use polso::engine::patch::Source;
use polso::profile::FileKind;

use crate::room::Room;

fn cc(number: u8, value: u8) -> Message {
    Message::Controller { channel: 0, number, value }
}

/// What is learned from these messages.
fn check(messages: impl IntoIterator<Item = Message>, expected: Option<Source>) {
    let mut learner = SourceLearner::default();
    let learned = messages.into_iter().find_map(|message| learner.hear(message));
    assert_eq!(learned, expected);
}

#[test]
fn a_movement_of_thirty_percent_is_learned_and_less_is_not() {
    check((40..=78).map(|value| cc(2, value)), None); // 38 of 127 steps are 29.9 %
    check((40..=79).map(|value| cc(2, value)), Some(Source::Controller(2)));
    check(
        (40..=79).map(|value| Message::ChannelPressure { channel: 3, value }),
        Some(Source::ChannelPressure),
    );
    let bends = (0..30_u16).map(|step| Message::PitchBend { channel: 0, value: 8192 + 250 * step });
    check(bends, Some(Source::PitchBend));
}

#[test]
fn flutter_switches_and_mode_messages_are_no_movement() {
    check((0..250).map(|step| cc(1, 64 + step % 2)), None);
    check([0, 127, 0, 127, 0].map(|value| cc(64, value)).into_iter().take(3), None);
    check((0..=127).map(|value| cc(121, value)), None);
    check((0..=127).map(|value| cc(6, value)), None);
}

#[test]
fn a_fine_controller_is_learned_as_a_pair() {
    let moved = (0..60_u8).flat_map(|step| [cc(1, step), cc(33, step.wrapping_mul(37) % 128)]);
    check(moved, Some(Source::ControllerPair(1)));
}

#[test]
fn the_window_learns_the_controller_that_is_moved_while_another_flutters() {
    let mut room = Room::erhu();
    room.press("Page Hand");
    room.press("Learn the controller by moving it");
    for step in 0..20_u8 {
        room.tap.play(cc(1, 60 + step % 2));
        room.tap.play(cc(2, step));
    }
    room.harness.run();
    let source = |room: &Room| room.model().sheet(FileKind::Hand).hand().expect("a hand").source;
    assert_eq!(source(&room), Source::Controller(1), "not far enough yet");
    for step in 20..50_u8 {
        room.tap.play(cc(2, step));
    }
    room.harness.run();
    assert_eq!(source(&room), Source::Controller(2));
    assert_eq!(room.model().sentence(), Some("Learned: cc 2 is the gesture."));
    room.press("Undo: learn the controller");
    assert_eq!(source(&room), Source::Controller(1));
}

/// Thirty seconds with a controller that rests, is full, and moves as given.
fn calibrate(rest: u8, full: u8) -> Room {
    let mut room = Room::erhu();
    room.press("Page Hand");
    room.press("Calibrate the hand in 30 seconds");
    let play = |room: &mut Room, seconds: u8, value: &dyn Fn(u8) -> u8| {
        for second in 0..seconds {
            room.tap.play(cc(1, value(second)));
            room.wait(1.0);
        }
    };
    play(&mut room, 10, &|second| rest + second % 2);
    play(&mut room, 10, &|_| full);
    play(&mut room, 11, &|second| if second % 2 == 0 { rest } else { full });
    room
}

#[test]
fn thirty_seconds_measure_rest_full_and_flutter() {
    let room = calibrate(9, 118);
    let number = |path: &str| room.number(FileKind::Hand, path);
    assert!((number("controller.low") - 9.5 / 127.0).abs() < 0.01, "{}", number("controller.low"));
    assert!((number("controller.high") - 118.0 / 127.0).abs() < 0.01);
    let flutter = 1.0 / (118.0 - 9.0);
    let dead_zone = number("controller.dead_zone_rest");
    assert!(dead_zone > flutter && dead_zone < flutter + 0.02, "{dead_zone}");
    let hand = room.model().sheet(FileKind::Hand).hand().expect("a hand");
    assert!(!hand.is_inverted);
}

#[test]
fn a_controller_that_is_turned_round_is_noticed() {
    let room = calibrate(120, 4);
    let hand = room.model().sheet(FileKind::Hand).hand().expect("a hand");
    assert!(hand.is_inverted);
    assert!(hand.low < 0.05 && hand.high > 0.92, "{} {}", hand.low, hand.high);
}

#[test]
fn a_controller_that_does_not_move_leaves_the_hand_as_it_was() {
    let before = Room::erhu().model().sheet(FileKind::Hand).text().to_owned();
    let room = calibrate(60, 62);
    assert_eq!(room.model().sheet(FileKind::Hand).text(), before);
    let sentence = room.model().sentence().expect("a sentence");
    assert!(sentence.starts_with("The hand stays as it was"), "{sentence}");
}

#[test]
fn what_was_measured_is_written_into_a_hand_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("my.hand.toml");
    let mut room = calibrate(9, 118);
    room.press("Page Files");
    room.type_into("Save the hand: path", &path.to_string_lossy());
    room.press("Save the hand");
    let bytes = std::fs::read(&path).expect("a file");
    let any = polso::profile::Any::check(&bytes).expect("a hand in order");
    let hand = &any.hand().expect("a hand").profile;
    let shown = room.model().sheet(FileKind::Hand).hand().expect("a hand");
    assert_eq!((hand.low, hand.high, hand.source), (shown.low, shown.high, Source::Controller(1)));
}
