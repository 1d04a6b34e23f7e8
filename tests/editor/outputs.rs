//! Outputs are tried one by one, keyswitches are learned by playing, everything is sent again.

use polso::editor::feed::Order;
use polso::engine::Engine;
use polso::engine::event::{Input, Message, Origin, Sink, Timed};
use polso::engine::patch::ModePatch;
use polso::profile::FileKind;

use crate::room::{Room, texts};

struct Heard(Vec<Message>);

impl Sink for Heard {
    fn send(&mut self, _: u32, message: Message, _: Origin) -> bool {
        self.0.push(message);
        true
    }
}

/// What a receiver hears of orders, one every 20 ms.
fn played(orders: &[Order]) -> Vec<Message> {
    let Some(Order::Try(patch)) = orders.first() else { panic!("no trial: {orders:?}") };
    let mut engine = Engine::prepare(48_000.0, patch);
    let mut heard = Heard(Vec::new());
    for order in &orders[1..] {
        if let Order::Input(input) = order {
            engine.process(960, &[Timed { frame: 0, tag: 0, input: *input }], &mut heard);
        }
    }
    heard.0
}

/// A trial of one output: all orders until it is over.
fn tried(room: &mut Room, name: &str) -> Vec<Order> {
    room.press("Page Outputs");
    room.tap.orders();
    room.press(name);
    room.wait(7.0);
    room.tap.orders()
}

#[test]
fn a_trial_sweeps_one_output_from_end_to_end_under_a_long_quiet_note() {
    let mut room = Room::erhu();
    let orders = tried(&mut room, "Test vibrato width");
    let heard = played(&orders);
    let notes: Vec<&Message> =
        heard.iter().filter(|it| matches!(it, Message::NoteOn { .. })).collect();
    let [Message::NoteOn { velocity, .. }] = notes[..] else { panic!("one note: {notes:?}") };
    assert!(*velocity < 40, "quiet: {velocity}");
    let (mut values, mut levels) = (Vec::new(), Vec::new());
    for message in &heard {
        match message {
            Message::Controller { number: 77, value, .. } => values.push(*value),
            Message::NoteOn { .. } | Message::NoteOff { .. } => {}
            Message::Controller { number: 11, value, .. } => levels.push(*value),
            other => panic!("only the tested output is swept, but {other:?} came too"),
        }
    }
    assert!(levels.len() == 1 && levels[0] < 100, "the level stands still, and low: {levels:?}");
    assert_eq!(values.iter().min(), Some(&64), "its low end");
    assert_eq!(values.iter().max(), Some(&127), "its high end");
    let top = values.iter().position(|value| *value == 127).expect("the top");
    assert!(values[..top].is_sorted() && values[top..].is_sorted_by(|one, other| one >= other));
    assert!(matches!(orders.last(), Some(Order::Play(_))), "then the line plays again");
}

#[test]
fn a_trial_of_the_bend_sweeps_the_bend() {
    let mut room = Room::with(&texts("erhu", "perform", "wheel"));
    let heard = played(&tried(&mut room, "Test pitch"));
    let bends: Vec<u16> = heard
        .iter()
        .filter_map(
            |it| if let Message::PitchBend { value, .. } = it { Some(*value) } else { None },
        )
        .collect();
    assert!(bends.iter().min() < Some(&200) && bends.iter().max() > Some(&16_200), "{bends:?}");
}

#[test]
fn a_trial_can_be_stopped_and_a_panic_stops_it() {
    for stop in ["Stop the test of dynamics", "Panic: silence and rest, now"] {
        let mut room = Room::erhu();
        room.press("Page Outputs");
        room.named("Test dynamics").click_accesskit();
        room.harness.run_steps(2);
        room.named(stop).click_accesskit();
        room.harness.run();
        let orders = room.tap.orders();
        let is_off =
            |order: &Order| matches!(order, Order::Input(Input::Live(Message::NoteOff { .. })));
        assert!(orders.iter().any(is_off), "{stop}: {orders:?}");
    }
}

#[test]
fn everything_is_sent_again_and_a_panic_is_a_panic() {
    let mut room = Room::erhu();
    room.press("Resend everything");
    room.press("Panic: silence and rest, now");
    let orders = room.tap.orders();
    assert_eq!(orders, [Order::Input(Input::Resync), Order::Input(Input::Panic)]);
}

#[test]
fn a_keyswitch_is_learned_by_playing_it() {
    let mut room = Room::erhu();
    room.press("Page Outputs");
    for (mode, key) in [("joined", 24), ("slide", 26)] {
        room.press(&format!("Learn the keyswitch of {mode}"));
        room.tap.play(Message::NoteOn { channel: 0, key, velocity: 90 });
        room.harness.run();
    }
    let target = room.model().sheet(FileKind::Target).target().expect("a target");
    let ModePatch::Keyswitch { keys, .. } = target.legato else { panic!("{:?}", target.legato) };
    assert_eq!(keys, [None, None, Some(24), None, Some(26)]);
    assert!(room.model().conflicts().is_empty());
}

#[test]
fn a_keyswitch_inside_the_playing_range_is_a_conflict_and_the_line_plays_on() {
    let mut room = Room::erhu();
    room.press("Page Outputs");
    room.press("Learn the keyswitch of joined");
    room.tap.orders();
    room.tap.play(Message::NoteOn { channel: 0, key: 70, velocity: 90 });
    room.harness.run();
    let conflicts = room.model().conflicts();
    assert_eq!(
        conflicts,
        ["target: legato.joined is 70; allowed is a key outside 62 to 93, where the erhu plays"]
    );
    assert!(room.tap.orders().is_empty(), "what does not go together is not played");
    room.press("Page Conflicts (1)");
}

/// The stream that a message belongs to.
fn stream(message: &Message) -> Option<String> {
    match message {
        Message::Controller { number, .. } => Some(format!("cc {number}")),
        Message::PitchBend { .. } => Some("pitch bend".to_owned()),
        Message::NoteOn { .. } | Message::NoteOff { .. } => None,
        other => Some(format!("{other:?}")),
    }
}

#[test]
fn every_output_of_every_shipped_target_can_be_tried_alone() {
    for target in ["generic", "perform"] {
        let texts = texts("erhu", target, "wheel");
        let outputs = Room::with(&texts).model().sheet(FileKind::Target).target().cloned();
        for output in outputs.expect("a target").outputs.iter().filter(|output| output.is_on) {
            let mut room = Room::with(&texts);
            let name = output.path.trim_start_matches("outputs.").replace(['_', '.'], " ");
            let heard = played(&tried(&mut room, &format!("Test {name}")));
            let address = polso::profile::address::address_text(output.address);
            let streams: Vec<String> = heard.iter().filter_map(stream).collect();
            let (own, others): (Vec<&String>, Vec<&String>) =
                streams.iter().partition(|stream| **stream == address);
            assert!(own.len() > 20, "{target}, {name}: it is swept");
            assert!(others.len() <= 1, "{target}, {name}: a level once, {others:?}");
            assert!(others.iter().all(|stream| *stream == "cc 11"), "{others:?}");
        }
    }
}
