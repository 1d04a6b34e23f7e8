//! Nothing is drawn when nothing moves, and a moving line is drawn on.

use std::collections::VecDeque;

use polso::editor::Editor;
use polso::editor::act::Act;
use polso::editor::feed::{Feed, Heard, Moment, Order};
use polso::editor::model::Model;
use polso::editor::picture::{Picture, paint};
use polso::engine::Engine;

use crate::room::{Room, texts};

#[test]
fn a_window_at_rest_is_not_drawn_again() {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(12.0));
    room.harness.state_mut().elapsed_s = 0.016;
    room.harness.run();
    let before = room.harness.state().frames;
    // Another run draws the one frame that it is asked for, and none after it.
    room.harness.run();
    room.harness.run();
    let frames = room.harness.state().frames - before;
    assert_eq!(frames, 2, "one frame a run");
}

#[test]
fn a_running_take_moves_and_stands_still_when_it_is_told_to() {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(12.0));
    room.editor().act(Act::Run(true));
    room.wait(1.0);
    let place_s = |room: &mut Room| room.editor().feed().reel().expect("a take").place_s;
    let there = place_s(&mut room);
    assert!((there - 13.0).abs() < 0.11, "in time: {there}");
    room.named("Stand the take").click_accesskit();
    room.harness.step();
    room.harness.run();
    let stood = place_s(&mut room);
    room.wait(1.0);
    assert_eq!(place_s(&mut room), stood);
}

#[test]
fn the_same_place_shows_the_same_line_however_it_was_reached() {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(20.0));
    room.harness.run();
    let last = |room: &Room| *room.harness.state().editor.meter().last().expect("a moment");
    let wound = last(&room);
    room.editor().act(Act::Wind(3.0));
    room.harness.run();
    room.editor().act(Act::Wind(20.0));
    room.harness.run();
    assert_eq!(last(&room), wound);
}

#[test]
fn a_standing_take_is_drawn_anew_with_every_edit() {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(15.0));
    room.harness.run();
    let widest = |room: &Room| {
        let moments = room.harness.state().editor.meter().moments();
        moments.map(|moment| moment.view.width_cents).fold(0.0, f64::max)
    };
    let before = widest(&room);
    room.press("Strand vibrato width");
    room.type_into("Breakpoint 3 in cents", "240");
    assert!(widest(&room) > before + 5.0, "{before} to {}", widest(&room));
}

/// A feed that shows what it was given, and does nothing.
struct Shown(VecDeque<Moment>);

impl Feed for Shown {
    fn read(&mut self) -> Option<Moment> {
        self.0.pop_front()
    }

    fn hear(&mut self) -> Option<Heard> {
        None
    }

    fn order(&mut self, _: Order) {}
}

/// The loom after gestures of these heights, a tenth of a second apart.
fn loom(gestures: &[f64], is_still: bool) -> Vec<egui::Color32> {
    let texts = texts("erhu", "generic", "wheel");
    let model = Model::open(&[texts.clone(), texts], 0, 0).expect("texts in order");
    let engine = Engine::prepare(48_000.0, &model.slot().patch(0).expect("a patch"));
    let moment = |(place, gesture): (usize, &f64)| {
        let mut view = engine.view();
        view.gesture = *gesture;
        Moment { at_s: 0.1 * place as f64, view, losses: engine.losses(), sent: 0 }
    };
    let moments = gestures.iter().enumerate().map(moment).collect();
    let mut editor = Editor::new(model, Box::new(Shown(moments)));
    editor.act(Act::Still(is_still));
    let Picture { width, pixels, .. } = paint(&mut editor, 1280, 800);
    let rows = pixels.chunks(width).take(400);
    rows.flat_map(|row| row[..750].to_vec()).collect()
}

#[test]
fn with_movement_turned_off_the_thread_shows_only_the_present() {
    let rising: Vec<f64> = (0..30).map(|step| f64::from(step) / 29.0).collect();
    let steady = vec![1.0; 30];
    assert!(loom(&rising, true) == loom(&steady, true), "the past does not move it");
    assert!(loom(&rising, false) != loom(&steady, false), "else it does");
}

#[test]
fn another_project_is_shown_when_the_host_opens_one() {
    let mut room = Room::erhu();
    room.press("Strand style");
    room.type_into("onset in ms", "300");
    let other = texts("violin", "perform", "breath");
    let editor = room.editor();
    editor.reopen(&[other.clone(), other], 0, 0).expect("texts in order");
    room.harness.run();
    let kind = polso::profile::FileKind::Instrument;
    assert_eq!(room.model().sheet(kind).meaning().about().id, "violin");
    assert_eq!(room.model().history().last_done(), None);
}
