//! Nothing is drawn when nothing moves, and a moving line is drawn on.

use polso::editor::act::Act;

use crate::room::Room;

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
