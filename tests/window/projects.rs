//! The window shows the project that the host has open, and the slots that the host has chosen.

use polso::host::state::State;
use serde_json::json;

use super::hall::Hall;
use super::project::{project, text};
use super::room::{Host, Said};
use super::stage::{BLOCK, stage};

#[test]
fn another_project_and_another_slot_are_shown_at_once() {
    let _stage = stage();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    hall.wait(0.3);
    let erhu = hall.shot();
    let mut state = State::new(text("dizi-d"), text("generic"), text("wheel"), 1);
    state.set_instruments(&[text("dizi-d"), text("erhu")]);
    assert!(hall.clap.restore(&project(&state.to_text(), &json!({}))));
    hall.wait(0.5);
    let dizi = hall.shot();
    dizi.keep("dizi");
    // The title alone is some hundred pixels.
    assert!(dizi.differing(&erhu) > 500, "{} pixels differ", dizi.differing(&erhu));
    // The host turns to the slot that holds the erhu.
    let second = [(0, Said::Control("Instrument slot", 1.0 / 3.0))];
    hall.clap.block(BLOCK, &second, None);
    assert_eq!(hall.clap.value("Instrument slot").round(), 1.0, "counted from 0");
    hall.wait(0.5);
    let again = hall.shot();
    again.keep("slot");
    assert!(again.differing(&dizi) > 500, "{} pixels differ", again.differing(&dizi));
    // What is closed and opened again shows the same.
    hall.hide();
    hall.show();
    hall.wait_drawn();
    hall.wait(0.3);
    assert!(hall.shot().differing(&again) < 500, "it has changed while it was closed");
}
