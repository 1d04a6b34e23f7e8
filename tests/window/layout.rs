//! Where things are in the window: the same function draws it without a display and says so.

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use polso::editor::act::{Act, Tab};
use polso::editor::feed::{Feed, InputMessage, Order, Snapshot, Texts};
use polso::editor::model::Model;
use polso::editor::printing::song::PrintingState;
use polso::editor::take_feed::TakeFeed;
use polso::editor::{Editor, fonts};
use polso::host::state::State;

/// A host that stands still.
struct Standing(TakeFeed);

impl Feed for Standing {
    fn read(&mut self) -> Option<Snapshot> {
        self.0.read()
    }

    fn hear(&mut self) -> Option<InputMessage> {
        self.0.hear()
    }

    fn order(&mut self, order: Order) {
        self.0.order(order);
    }

    fn printing(&mut self) -> Option<PrintingState> {
        Some(PrintingState::default())
    }
}

/// A fresh plugin's files in an editor, with a host that stands still.
pub fn fresh_editor() -> Editor {
    let state = State::shipped();
    let texts = Texts {
        instrument: state.instruments()[0].to_owned(),
        target: state.targets()[0].to_owned(),
        hand: state.hands()[0].to_owned(),
    };
    let model = Model::open(&[texts.clone(), texts], 0, 1).expect("texts in order");
    let patch = model.slot().patch(1).expect("texts that go together");
    Editor::new(model, Box::new(Standing(TakeFeed::silent(&patch))))
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
