//! What a hand does in the window, with a real pointer and real keys, reaches the player and the project.

use polso::editor::act::Tab;
use polso::engine::Message;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;

use super::hall::Hall;
use super::layout::place;
use super::project::kept;
use super::room::{Heard, Host, Said, check_equal, engine, play};
use super::screen::{CONTROL, LETTER_Z};
use super::stage::{BLOCK, stage};
use super::take::{END, on, take, wheel};

/// The instrument that the project keeps in a slot.
fn instrument(hall: &mut Hall, slot: usize) -> String {
    let state = State::parse(&kept(&hall.clap.save())).expect("a state");
    let text = state.instruments()[slot].to_owned();
    text.lines().find_map(|line| line.strip_prefix("id = ")).expect("an id").to_owned()
}

/// Plays silence, in which the host hears what the plugin has turned: a tenth of a second, which no
/// rhythm of the engine's divides unevenly.
fn silence(hall: &mut Hall) {
    hall.clap.block(4800, &[], None);
}

#[test]
fn an_instrument_chosen_by_a_hand_plays_is_kept_and_can_be_taken_back() {
    let _stage = stage();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    assert_eq!(instrument(&mut hall, 0), "\"erhu\"");
    hall.screen.press(place(Tab::Curve, "Page Choose"));
    hall.wait(0.4);
    hall.shot().keep("choose");
    hall.screen.press(place(Tab::Library, "Choose violin"));
    hall.wait_until("the project keeps the violin", |hall| instrument(hall, 0) == "\"violin\"");
    hall.wait(0.3);
    hall.shot().keep("violin");
    // The host is told that there is something to save.
    hall.wait_until("the host is told", |hall| {
        silence(hall);
        !hall.clap.booth.turned("Edits").is_empty()
    });
    assert_eq!(hall.clap.value("Edits").round(), 1.0);
    // It plays what it keeps.
    let state = State::parse(&kept(&hall.clap.save())).expect("a state");
    let patches = SlotPatches::of(&state).expect("patches");
    let expected = engine(patches.first().expect("a patch"), &take(), END, None);
    let heard = play(&mut hall.clap, &[BLOCK], &take(), END, None);
    // A fresh engine tells its receiver everything first, and this one has; and the send (91) is
    // thinned with an eye on all that went before.
    let is_compared = |it: &Heard| {
        let is_send = matches!(it.said, Said::Message(Message::Controller { number: 91, .. }, _));
        it.frame > 0 && !is_send
    };
    let later = |list: Vec<Heard>| list.into_iter().filter(is_compared).collect::<Vec<_>>();
    check_equal("the violin", &later(heard), &later(expected));
    // And by keys.
    hall.screen.keys([CONTROL, LETTER_Z]);
    hall.wait_until("it is taken back", |hall| instrument(hall, 0) == "\"erhu\"");
}

#[test]
fn panic_and_the_other_slot_reach_the_player() {
    let _stage = stage();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    hall.clap.block(BLOCK, &[(0, wheel(0.0, 90).1), (1, on(0.0, 69, 1).1)], None);
    hall.screen.press(place(Tab::Curve, "Panic: silence and rest, now"));
    let is_off = |(_, said): &(u32, Said)| {
        matches!(said, Said::Message(Message::NoteOff { key: 69, .. }, 1))
    };
    hall.wait_until("the note ends", |hall| hall.clap.block(BLOCK, &[], None).iter().any(is_off));
    hall.screen.press(place(Tab::Curve, "Slot B"));
    hall.wait_until("the controls are turned", |hall| {
        silence(hall);
        // Hosts count the four slots from 0.
        ["Instrument slot", "Target slot"].iter().all(|it| hall.clap.value(it).round() == 1.0)
    });
    let state = State::parse(&kept(&hall.clap.save())).expect("a state");
    assert_eq!((state.instruments().len(), state.targets().len()), (2, 2));
    assert!(!hall.clap.booth.turned("Edits").is_empty(), "the host is told");
}

/// Nobody would end what was being tried when the window is closed.
#[test]
fn a_trial_ends_with_its_window() {
    let _stage = stage();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    hall.screen.press(place(Tab::Curve, "Page Outputs"));
    hall.wait(0.4);
    hall.shot().keep("outputs");
    hall.screen.press(place(Tab::Outputs, "Test dynamics"));
    let is_on = |(_, said): &(u32, Said)| matches!(said, Said::Message(Message::NoteOn { .. }, _));
    hall.wait_until("the trial sounds", |hall| hall.clap.block(BLOCK, &[], None).iter().any(is_on));
    hall.hide();
    let is_off =
        |(_, said): &(u32, Said)| matches!(said, Said::Message(Message::NoteOff { .. }, _));
    let ends = (0..2000).any(|_| hall.clap.block(BLOCK, &[], None).iter().any(is_off));
    assert!(ends, "the note of the trial hangs");
    assert_eq!(kept(&hall.clap.save()), State::shipped().to_text());
    assert!(hall.clap.booth.turned("Edits").is_empty(), "a trial changes no project");
}
