//! Where things are in the window: the same function draws it without a display and says so.

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use polso::editor::act::{Act, Tab};
use polso::editor::feed::Texts;
use polso::editor::model::Model;
use polso::editor::take_feed::TakeFeed;
use polso::editor::{Editor, fonts};
use polso::host::state::State;

/// A fresh plugin's files in an editor, with nobody who plays.
pub fn fresh_editor() -> Editor {
    let state = State::shipped();
    let texts = Texts {
        instrument: state.instruments()[0].to_owned(),
        target: state.targets()[0].to_owned(),
        hand: state.hands()[0].to_owned(),
    };
    let model = Model::open(&[texts.clone(), texts], 0, 1).expect("texts in order");
    let patch = model.slot().patch(1).expect("texts that go together");
    Editor::new(model, Box::new(TakeFeed::silent(&patch)))
}

/// The middle of what has this name on a page of a fresh plugin's window, pixels.
pub fn place(tab: Tab, name: &str) -> (i16, i16) {
    let mut editor = fresh_editor();
    editor.act(Act::Turn(tab));
    let mut harness = Harness::builder()
        .with_size([1280.0, 800.0])
        .with_max_steps(12)
        .with_context_setup(fonts::install)
        .build_ui_state(
            |ui, editor: &mut Editor| {
                editor.frame(ui, 0.0);
            },
            editor,
        );
    harness.run();
    let middle = harness.get_by_label(name).rect().center();
    (middle.x as i16, middle.y as i16)
}
