//! From a fresh window to a first phrase that is right, in at most six actions.

use polso::editor::act::Act;
use polso::engine::event::Message;
use polso::engine::patch::Source;
use polso::profile::FileKind;

use crate::room::{Room, texts};

#[test]
fn fresh_learned_wheel_erhu_first_phrase_in_six_actions() {
    // Somebody else's settings: another instrument, another controller.
    let mut room = Room::with(&texts("violin", "generic", "breath"));
    let mut actions = 0;
    let mut press = |room: &mut Room, name: &str| {
        actions += 1;
        room.press(name);
    };
    press(&mut room, "Page Hand");
    press(&mut room, "Learn the controller by moving it");
    for value in 0..=60 {
        room.tap.play(Message::Controller { channel: 0, number: 1, value });
    }
    room.harness.run();
    actions += 1; // the wheel is moved
    let mut press = |room: &mut Room, name: &str| {
        actions += 1;
        room.press(name);
    };
    press(&mut room, "Page Choose");
    press(&mut room, "Choose erhu");
    press(&mut room, "Play the take");
    room.wait(6.0);
    assert!(actions <= 6, "{actions} actions");
    let hand = room.model().sheet(FileKind::Hand).hand().expect("a hand");
    assert_eq!(hand.source, Source::Controller(1));
    assert_eq!(room.model().sheet(FileKind::Instrument).meaning().about().id, "erhu");
    room.editor().act(Act::Run(false));
    // Right: the wheel is heard, the notes are the take's, they are vibrated and joined.
    let meter = room.harness.state().editor.meter();
    assert!(meter.view().expect("values").raw.is_some());
    assert!(meter.notes().len() >= 2, "{:?}", meter.notes());
    let widest = meter.moments().map(|moment| moment.view.width_cents).fold(0.0, f64::max);
    assert!(widest > 30.0, "{widest}");
}
