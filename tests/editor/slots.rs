//! Two slots are compared: what differs is listed, and the sound moves over within 50 ms.

use egui_kittest::kittest::Queryable;
use polso::editor::feed::Order;
use polso::engine::Engine;
use polso::engine::event::{Input, Message, Origin, Sink, Timed};
use polso::profile::FileKind;

use crate::room::Room;

#[test]
fn the_slots_list_what_they_do_not_share() {
    let mut room = Room::erhu();
    assert!(room.model().differences().is_empty());
    room.press("Slot B");
    room.press("Strand style");
    room.type_into("onset in ms", "400");
    let differences = room.model().differences();
    let paths: Vec<&str> = differences.iter().map(|each| each.path.as_str()).collect();
    assert_eq!(paths, ["vibrato.onset_ms"]);
    room.press("Page Compare");
    let top = |words: &str| {
        let all = room.harness.get_all_by_label(words);
        all.map(|node| node.rect().top()).fold(f32::MAX, f32::min)
    };
    assert_eq!(top("220 ms"), top("400 ms"), "in one row");
    room.press("Copy slot B to A");
    assert!(room.model().differences().is_empty());
}

#[test]
fn changing_over_plays_the_other_slot() {
    let mut room = Room::erhu();
    room.press("Slot B");
    room.press("Page Choose");
    room.press("Choose violin");
    room.press("Slot A");
    let orders = room.tap.orders();
    let plays: Vec<(usize, f64)> = orders
        .iter()
        .filter_map(|order| match order {
            Order::Play(setup) => Some((setup.slot, setup.patch.strings.strings[0].length_m)),
            _ => None,
        })
        .collect();
    assert_eq!(plays.iter().map(|play| play.0).collect::<Vec<_>>(), [1, 1, 0]);
    assert_eq!(plays[0].1, 0.40, "the erhu in both");
    assert_ne!(plays[1].1, plays[0].1, "the violin in B");
    assert_eq!(plays[2].1, 0.40, "the erhu in A");
}

struct Levels(Vec<(u32, u8)>);

impl Sink for Levels {
    fn send(&mut self, frame: u32, message: Message, _: Origin) -> bool {
        if let Message::Controller { number: 11, value, .. } = message {
            self.0.push((frame, value));
        }
        true
    }
}

#[test]
fn in_mid_note_the_values_move_over_within_50_ms() {
    let mut room = Room::erhu();
    room.press("Slot B");
    room.press("Strand dynamics");
    room.type_into("ceiling", "0.3");
    room.press("Slot A");
    room.press("Slot B");
    let orders = room.tap.orders();
    let patches: Vec<_> = orders
        .into_iter()
        .filter_map(|order| if let Order::Play(setup) = order { Some(setup.patch) } else { None })
        .collect();
    let [.., loud, quiet] = &patches[..] else { panic!("two slots were played") };
    let mut engine = Engine::prepare(48_000.0, loud);
    let mut levels = Levels(Vec::new());
    let events = [
        Input::Midi(Message::Controller { channel: 0, number: 1, value: 127 }),
        Input::Midi(Message::NoteOn { channel: 0, key: 69, velocity: 80 }),
    ];
    let block = events.map(|input| Timed { frame: 0, tag: 0, input });
    engine.process(48_000, &block, &mut levels);
    let before = levels.0.last().expect("a level").1;
    levels.0.clear();
    engine.load(quiet);
    engine.process(9_600, &[], &mut levels);
    let last = levels.0.last().expect("the level moves").1;
    assert!(last + 20 < before, "quieter: {before} to {last}");
    let steps: Vec<u8> = levels.0.iter().map(|(_, value)| *value).collect();
    assert!(steps.len() > 2, "in several steps: {steps:?}");
    let (settled, _) = levels.0.iter().find(|(_, value)| *value == last).expect("it settles");
    assert!(f64::from(*settled) <= 0.075 * 48_000.0, "50 ms, an interval more at most: {settled}");
}

#[test]
fn the_slot_that_is_copied_is_not_changed_by_what_follows() {
    let mut room = Room::erhu();
    room.press("Page Compare");
    room.press("Copy slot A to B");
    room.press("Strand style");
    room.type_into("growth in ms", "500");
    room.press("Slot B");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.growth_ms"), 350.0);
}
