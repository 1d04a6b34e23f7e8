//! Curves are bent by hand: breakpoints dragged, moved by keys, added, removed, typed and reset.

use egui::Key;
use polso::editor::strand::Strand;
use polso::profile::FileKind;

use crate::room::Room;

const WIDTH: &str = "vibrato.rolled.width_cents";

fn check_points(room: &Room, path: &str, expected: &[(f64, f64)]) {
    assert_eq!(room.points(path), expected, "{path}");
}

#[test]
fn each_strand_is_looked_at_when_its_plaque_is_pressed() {
    let mut room = Room::erhu();
    for strand in Strand::ALL {
        room.press(&format!("Strand {}", strand.name()));
        assert_eq!(room.model().strand(), strand);
    }
}

#[test]
fn a_breakpoint_moves_by_the_arrow_keys_and_with_shift_ten_times_as_far() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    room.keys("Breakpoint 2 of 3", &[Key::ArrowUp, Key::ArrowUp, Key::ArrowLeft]);
    check_points(&room, WIDTH, &[(0.0, 0.0), (0.49, 58.0), (1.0, 120.0)]);
    room.harness.key_press_modifiers(egui::Modifiers::SHIFT, Key::ArrowDown);
    room.harness.run();
    check_points(&room, WIDTH, &[(0.0, 0.0), (0.49, 48.0), (1.0, 120.0)]);
}

#[test]
fn a_breakpoint_moves_for_an_assistive_tool() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    room.named("Breakpoint 3 of 3").increment_accesskit();
    room.harness.run();
    room.named("Breakpoint 2 of 3").decrement_accesskit();
    room.harness.run();
    check_points(&room, WIDTH, &[(0.0, 0.0), (0.5, 55.0), (1.0, 121.0)]);
    let said = room.named("Breakpoint 2 of 3").value();
    assert_eq!(said.as_deref(), Some("gesture 0.5, 55 cents"));
}

#[test]
fn a_dragged_breakpoint_is_one_step_and_stays_between_its_neighbours() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    let before = room.model().sheet(FileKind::Instrument).text().to_owned();
    let from = room.named("Breakpoint 2 of 3").rect().center();
    room.harness.drag_at(from);
    room.harness.run();
    for step in 1..=6_u8 {
        let by = f32::from(step) * egui::vec2(60.0, -10.0);
        room.harness.event(egui::Event::PointerMoved(from + by));
        room.harness.run();
    }
    room.harness.drop_at(from + egui::vec2(360.0, -60.0));
    room.harness.run();
    let points = room.points(WIDTH);
    assert!(points[1].1 > 70.0, "it rose: {points:?}");
    assert!(points[1].0 > 0.9 && points[1].0 < points[2].0, "it stays before the last: {points:?}");
    room.press("Undo: width");
    assert_eq!(room.model().sheet(FileKind::Instrument).text(), before, "one step takes all back");
}

#[test]
fn breakpoints_are_added_removed_and_reset() {
    let mut room = Room::erhu();
    room.press("Strand dynamics");
    room.press("Add a breakpoint");
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (0.5, 0.5), (1.0, 1.0)]);
    room.keys("Breakpoint 2 of 3", &[Key::ArrowUp]);
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (0.5, 0.51), (1.0, 1.0)]);
    room.keys("Breakpoint 2 of 3", &[Key::Delete]);
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (1.0, 1.0)]);
    room.press("Add a breakpoint");
    room.press("Remove breakpoint 2");
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (1.0, 1.0)]);
    room.keys("Breakpoint 1 of 2", &[Key::Delete]);
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (1.0, 1.0)]); // two must stay
    room.press("Add a breakpoint");
    room.press("Reset the curve");
    check_points(&room, "dynamics.curve", &[(0.0, 0.0), (1.0, 1.0)]);
}

#[test]
fn breakpoints_and_numbers_are_typed_with_units() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    room.type_into("Breakpoint 2 in cents", "0.7 semitones");
    room.type_into("Breakpoint 2 gesture", "40 %");
    check_points(&room, WIDTH, &[(0.0, 0.0), (0.4, 70.0), (1.0, 120.0)]);
    room.press("Strand style");
    room.type_into("onset in ms", "0.25 s");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 250.0);
    room.press("Reset onset in ms");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 220.0);
}

#[test]
fn a_number_beyond_its_range_is_answered_with_place_value_and_range_and_the_line_plays_on() {
    let mut room = Room::erhu();
    room.press("Strand style");
    room.type_into("onset in ms", "9000");
    let sentence = room.model().sentence().expect("a sentence").to_owned();
    assert!(sentence.contains("vibrato.onset_ms is 9000; allowed is 0 to 3000"), "{sentence}");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 220.0);
    assert!(room.model().conflicts().is_empty());
    assert_eq!(room.model().history().last_done(), None, "nothing was done");
}

#[test]
fn the_edges_of_styles_and_of_legato_move_and_the_hysteresis_is_typed() {
    let mut room = Room::erhu();
    room.press("Strand style");
    room.keys("From plain to rolled begins", &[Key::ArrowRight]);
    room.keys("From rolled to pressed ends", &[Key::ArrowLeft]);
    let edges = room.points("vibrato.style_edges");
    assert_eq!(edges, [(0.11, 0.3), (0.72, 0.91)]);
    room.press("Strand legato");
    room.keys("Edge between joined and slow", &[Key::ArrowRight, Key::ArrowRight]);
    let instrument = room.model().sheet(FileKind::Instrument).instrument().expect("an instrument");
    assert_eq!(instrument.legato.edges, [0.3, 0.67, 0.85]);
    room.type_into("hysteresis", "0.05");
    assert_eq!(room.number(FileKind::Instrument, "legato.hysteresis"), 0.05);
}

#[test]
fn the_end_of_the_tail_moves() {
    let mut room = Room::erhu();
    room.press("Strand tail and send");
    room.keys("End of the tail", &[Key::ArrowRight, Key::ArrowDown]);
    assert_eq!(room.number(FileKind::Instrument, "tail.tail_ms"), 310.0);
    assert_eq!(room.number(FileKind::Instrument, "tail.tail_db"), 19.0);
}

#[test]
fn the_response_of_the_hand_becomes_points_and_one_number_again() {
    let mut room = Room::erhu();
    room.press("Strand gesture");
    room.keys("Breakpoint 3 of 5", &[Key::ArrowUp]);
    let hand = room.model().sheet(FileKind::Hand);
    assert!(hand.faults().is_empty(), "{:?}", hand.faults());
    let points = hand.points("controller.response").expect("points now");
    assert_eq!(points[2], (0.5, 0.51));
    room.press("Reset the curve");
    assert_eq!(room.number(FileKind::Hand, "controller.response_k"), 0.0);
}

#[test]
fn an_edge_is_dragged_as_one_step_and_stays_between_its_neighbours() {
    let mut room = Room::erhu();
    room.press("Strand legato");
    let edges = |room: &Room| {
        room.model().sheet(FileKind::Instrument).instrument().expect("an instrument").legato.edges
    };
    let from = room.named("Edge between quick and joined").rect().center();
    room.harness.drag_at(from);
    room.harness.run();
    for step in 1..=5_u8 {
        let to = from + egui::vec2(70.0 * f32::from(step), 20.0);
        room.harness.event(egui::Event::PointerMoved(to));
        room.harness.run();
    }
    room.harness.drop_at(from + egui::vec2(350.0, 20.0));
    room.harness.run();
    let [quick, joined, slow] = edges(&room);
    assert!(quick > 0.5 && quick < joined, "{quick} {joined}");
    assert_eq!([joined, slow], [0.65, 0.85], "the others stay");
    room.press("Undo: edges");
    assert_eq!(edges(&room), [0.3, 0.65, 0.85]);
}
