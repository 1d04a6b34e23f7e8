//! Everything has a name, is reached by the keyboard, and nothing is said by colour alone.

use std::collections::BTreeSet;

use egui_kittest::kittest::{NodeT, Queryable};
use polso::editor::act::Page;
use polso::editor::strand::Strand;

use crate::room::{Room, texts};

/// The names of everything that can be pressed or moved.
fn pressable(room: &Room) -> BTreeSet<String> {
    let roles =
        [egui::Role::Button, egui::Role::Slider, egui::Role::CheckBox, egui::Role::TextInput];
    let mut names = BTreeSet::new();
    let nodes = room.harness.root().children_recursive();
    for node in nodes {
        let node = node.accesskit_node();
        if roles.contains(&node.role()) && !node.is_disabled() {
            let name = node.label().unwrap_or_default();
            assert!(!name.is_empty(), "a {:?} has no name", node.role());
            assert!(names.insert(name.clone()), "two things are called {name:?}");
        }
    }
    names
}

#[test]
fn every_page_and_strand_gives_each_thing_a_name_of_its_own() {
    let mut room = Room::erhu();
    for strand in Strand::ALL {
        room.press(&format!("Strand {}", strand.name()));
        assert!(pressable(&room).len() > 20);
    }
    for page in Page::ALL {
        room.press(&format!("Page {}", page.name()));
        assert!(pressable(&room).len() > 20);
    }
}

#[test]
fn the_tab_key_reaches_everything() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    let all = pressable(&room);
    let mut reached = BTreeSet::new();
    for _ in 0..2 * all.len() {
        room.harness.key_press(egui::Key::Tab);
        room.harness.run();
        let nodes = room.harness.root().children_recursive();
        let focused = nodes.filter(|node| node.is_focused());
        reached.extend(focused.filter_map(|node| node.accesskit_node().label()));
    }
    let missed: Vec<&String> = all.difference(&reached).collect();
    assert!(missed.is_empty(), "not reached: {missed:?}");
}

#[test]
fn enter_and_space_press_what_the_keyboard_holds() {
    let mut room = Room::erhu();
    room.keys("Strand legato", &[egui::Key::Enter]);
    assert_eq!(room.model().strand(), Strand::Legato);
    room.keys("Page Hand", &[egui::Key::Space]);
    assert_eq!(room.model().page(), Page::Hand);
}

#[test]
fn the_strands_the_reason_and_the_notes_are_read_aloud_with_their_values() {
    let mut room = Room::erhu();
    room.editor().act(polso::editor::act::Act::Wind(12.0));
    room.harness.run();
    let value = |name: &str| room.named(name).value().expect("a value");
    assert!(value("Strand vibrato width").ends_with(" cents"));
    assert!(value("Strand vibrato rate").ends_with(" Hz"));
    assert_eq!(value("Strand style"), "rolled");
    assert!(value("Reason").ends_with('.'));
    assert!(
        value("The last 8 seconds").contains("A4 (69) joined"),
        "{}",
        value("The last 8 seconds")
    );
}

#[test]
fn at_every_size_up_to_300_percent_everything_is_there() {
    let mut room = Room::erhu();
    let at_100 = pressable(&room);
    for percent in [125, 150, 200, 250, 300] {
        room.press("Larger");
        assert_eq!(room.model().look.percent, percent);
        let missing: Vec<String> = at_100.difference(&pressable(&room)).cloned().collect();
        assert!(missing.is_empty(), "at {percent} %: {missing:?}");
    }
    room.harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Minus);
    room.harness.run();
    assert_eq!(room.model().look.percent, 250);
}

#[test]
fn every_script_is_drawn() {
    // The harness ends the test if a letter has no shape in any font.
    for instrument in ["erhu", "morin-khuur", "dizi-d", "suona-d"] {
        let mut room = Room::with(&texts(instrument, "generic", "wheel"));
        room.press("Page Choose");
        assert!(room.harness.query_by_label("Choose erhu").is_some());
    }
    assert!(polso::editor::fonts::missing("二胡 эрху морин хуур").is_empty());
}

/// Whether anything is drawn in the colour of the focus.
fn shows_focus(shape: &egui::Shape, colour: egui::Color32) -> bool {
    match shape {
        egui::Shape::Vec(shapes) => shapes.iter().any(|shape| shows_focus(shape, colour)),
        egui::Shape::Rect(rect) => rect.stroke.color == colour && rect.stroke.width >= 2.0,
        _ => false,
    }
}

#[test]
fn what_the_keyboard_holds_is_seen() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    let colour = polso::editor::theme::Theme::of(polso::editor::act::Light::Day).focus;
    let is_seen = |room: &Room| {
        let shapes = &room.harness.output().shapes;
        shapes.iter().any(|clipped| shows_focus(&clipped.shape, colour))
    };
    for name in pressable(&room) {
        room.named(&name).focus();
        room.harness.run();
        assert!(is_seen(&room), "{name} holds the keyboard and nothing shows it");
    }
}

#[test]
fn what_is_typed_and_is_no_number_is_answered_in_one_sentence() {
    let mut room = Room::erhu();
    room.press("Strand style");
    room.type_into("onset in ms", "soon");
    let sentence = room.model().sentence().expect("a sentence");
    assert_eq!(sentence, "onset: \"soon\" is no number; allowed is a number in ms");
    room.type_into("onset in ms", "3 Hz");
    let sentence = room.model().sentence().expect("a sentence");
    assert_eq!(sentence, "onset: \"Hz\" is no unit here; allowed is a number in ms");
    assert_eq!(room.number(polso::profile::FileKind::Instrument, "vibrato.onset_ms"), 220.0);
}

/// The forms that are drawn in a place, without their colours.
fn forms(room: &Room, place: egui::Rect) -> Vec<String> {
    let near = |at: &egui::Pos2| {
        let from = *at - place.left_center();
        format!("{:.0},{:.0}", from.x, from.y)
    };
    let mut forms = Vec::new();
    for clipped in &room.harness.output().shapes {
        let bounds = clipped.shape.visual_bounding_rect();
        if !bounds.is_finite() || !place.contains_rect(bounds) {
            continue;
        }
        match &clipped.shape {
            egui::Shape::LineSegment { points, .. } => {
                forms.push(format!("line {:?}", points.iter().map(near).collect::<Vec<_>>()));
            }
            egui::Shape::Path(path) => {
                let points: Vec<String> = path.points.iter().map(near).collect();
                forms.push(format!("path {} {points:?}", path.closed));
            }
            _ => {}
        }
    }
    forms
}

#[test]
fn every_strand_has_a_mark_of_its_own_form_beside_its_name() {
    let room = Room::erhu();
    let mut seen = BTreeSet::new();
    for strand in Strand::ALL.into_iter().filter(|strand| *strand != Strand::Gesture) {
        let plaque = room.named(&format!("Strand {}", strand.name())).rect();
        let place = egui::Rect::from_min_size(plaque.min, egui::vec2(26.0, plaque.height()));
        let forms = forms(&room, place);
        assert!(!forms.is_empty(), "{} has a mark", strand.name());
        assert!(seen.insert(forms.clone()), "{} has a mark of its own: {forms:?}", strand.name());
    }
}
