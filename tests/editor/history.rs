//! Every step can be taken back, to the byte, and made again, a hundred of them and more.

use polso::editor::edit::{Edit, Place};
use polso::editor::history::{History, STEPS_MAX};
use polso::profile::FileKind;
use proptest::prelude::*;

use crate::room::Room;

const PLACE: Place = Place { slot: 0, kind: FileKind::Instrument };

proptest! {
    /// Whatever becomes of a text, the inverse gives it back to the byte.
    #[test]
    fn the_inverse_of_an_edit_is_exact(before in "(ab|二胡|ё|\n|x){0,12}", after in "(ab|二胡|ё|\n|x){0,12}") {
        match Edit::between(PLACE, "any", &before, &after) {
            None => prop_assert_eq!(before, after),
            Some(edit) => {
                let there = edit.applied(&before).expect("the edit belongs to this text");
                prop_assert_eq!(&there, &after);
                let back = edit.inverse().applied(&there).expect("and its inverse to that one");
                prop_assert_eq!(back, before);
            }
        }
    }

    /// Any walk of steps back and forward lands on the texts of the way there.
    #[test]
    fn a_walk_through_the_history_meets_the_same_texts(
        texts in prop::collection::vec("[a-d\n]{0,8}", 2..40),
        walk in prop::collection::vec(any::<bool>(), 0..80),
    ) {
        let mut history = History::default();
        let mut met = vec![texts[0].clone()];
        for text in &texts[1..] {
            let last = &met[met.len() - 1];
            if let Some(edit) = Edit::between(PLACE, "any", last, text) {
                history.did(edit);
                met.push(text.clone());
            }
        }
        let mut at = met.len() - 1;
        let mut text = met[at].clone();
        for is_forward in walk {
            let edit = if is_forward { history.redo() } else { history.undo() };
            let expected = if is_forward { at + 1 < met.len() } else { at > 0 };
            prop_assert_eq!(edit.is_some(), expected);
            if let Some(edit) = edit {
                text = edit.applied(&text).expect("each edit follows on the last");
                at = if is_forward { at + 1 } else { at - 1 };
                prop_assert_eq!(&text, &met[at]);
            }
        }
    }
}

#[test]
fn an_edit_is_refused_by_a_text_that_it_does_not_belong_to() {
    let edit = Edit::between(PLACE, "any", "onset = 2", "onset = 3").expect("they differ");
    assert_eq!(edit.applied("onset = 4"), None);
    assert_eq!(edit.applied("on"), None);
}

#[test]
fn a_hundred_and_twenty_steps_are_taken_back_and_made_again_in_the_window() {
    const { assert!(STEPS_MAX >= 120) };
    let mut room = Room::erhu();
    room.press("Strand dynamics");
    let first = room.model().sheet(FileKind::Instrument).text().to_owned();
    let path = || "dynamics.span_db".to_owned();
    for step in 0..120_u32 {
        let value = polso::editor::sheet::Setting::Number(31.0 + 0.25 * f64::from(step));
        room.editor().act(polso::editor::act::Act::Set {
            kind: FileKind::Instrument,
            path: path(),
            value,
        });
    }
    let last = room.model().sheet(FileKind::Instrument).text().to_owned();
    let undo = egui::Modifiers::COMMAND;
    for _ in 0..120 {
        room.harness.key_press_modifiers(undo, egui::Key::Z);
        room.harness.step();
    }
    assert_eq!(room.model().sheet(FileKind::Instrument).text(), first);
    for _ in 0..120 {
        room.harness.key_press_modifiers(undo, egui::Key::Y);
        room.harness.step();
    }
    assert_eq!(room.model().sheet(FileKind::Instrument).text(), last);
}

#[test]
fn unknown_fields_and_comments_survive_every_step() {
    let mut texts = crate::room::texts("erhu", "generic", "wheel");
    texts.instrument = texts.instrument.replace("[bow]", "[my_own]\nx = 1 # mine\n\n[bow]");
    let mut room = Room::with(&texts);
    room.press("Strand vibrato width");
    room.keys("Breakpoint 2 of 3", &[egui::Key::ArrowUp]);
    let text = room.model().sheet(FileKind::Instrument).text().to_owned();
    assert!(text.contains("[my_own]\nx = 1 # mine"), "{text}");
    assert!(text.contains("# The hand rolls: the pitch swings to both sides."), "{text}");
    assert!(text.contains("\"vibrato.rolled.width_cents\" = \"L: set by hand\""), "{text}");
}
