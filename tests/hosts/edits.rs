//! The window changes the project while the host opens another: neither is lost, and what is kept
//! is what plays.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Barrier};
use std::thread;

use nice_plug::params::persist::PersistentField;
use polso::editor::feed::{Feed, Order, Setup};
use polso::host::bank::Bank;
use polso::host::desk::{Desk, Outdated};
use polso::host::link::{Link, Live};
use polso::host::meter::Meter;
use polso::host::parameters::Parameters;
use polso::host::state::State;

use super::project::text;

/// Projects that the host opens while the window changes one.
const RACES: u64 = 400;

fn state(instrument: &str, seed: u64) -> State {
    State::new(text(instrument), text("perform"), text("wheel"), seed)
}

/// A window over a fresh plugin, and how often the host was told of a change.
fn window() -> (Arc<Link>, Live, Arc<AtomicU32>) {
    let (_, meter) = Meter::pair();
    let link = Arc::new(Link::new(Arc::new(Parameters::neutral()), Arc::new(meter)));
    let told = Arc::new(AtomicU32::new(0));
    let count = Arc::clone(&told);
    let tell = Arc::new(move || {
        count.fetch_add(1, Ordering::Relaxed);
    });
    let live = Live::new(Arc::clone(&link), tell);
    (link, live, told)
}

/// What the window shows, with another instrument in the slot that plays.
fn setup(link: &Link, instrument: &str) -> Setup {
    let (state, _) = link.controls.desk.opened();
    let pair = link.shown().pair;
    let mut slots = pair.texts(&state);
    slots[pair.playing].instrument = text(instrument).to_owned();
    let patch = *Bank::of(&state).expect("a bank").first().expect("a patch");
    Setup { slots, slot: pair.playing, patch }
}

fn own_id(state: &State) -> &str {
    let line = state.instruments()[0].lines().find_map(|line| line.strip_prefix("id = "));
    line.expect("an id").trim_matches('"')
}

#[test]
fn a_change_of_a_project_that_the_host_has_closed_is_answered_and_not_made() {
    let (link, mut live, told) = window();
    let desk = &link.controls.desk;
    live.order(Order::Play(Box::new(setup(&link, "violin"))));
    assert_eq!((own_id(&desk.state()), told.load(Ordering::Relaxed)), ("violin", 1));
    assert!(!link.was_outdated());
    // The window reads and thinks; the host opens another project; the window puts back.
    let late = setup(&link, "cello");
    desk.set(state("dizi-d", 7).to_text());
    live.order(Order::Play(Box::new(late.clone())));
    assert_eq!(desk.state(), state("dizi-d", 7), "the host's project is not lost");
    assert_eq!(told.load(Ordering::Relaxed), 1, "nothing has changed");
    assert!(link.was_outdated() && !link.was_outdated(), "it is answered, once");
    live.order(Order::Try(Box::new(late.patch)));
    assert!(link.was_outdated(), "a trial too");
    let playing = desk.tray().take().expect("the host's project").first().expect("a patch").seed;
    assert_eq!(playing, 7);
}

/// The window's changes and the host's projects by two threads; each project has a seed of its own.
#[test]
fn what_is_kept_is_what_plays_whoever_comes_first() {
    let desk = Arc::new(Desk::shipped());
    let tray = desk.tray();
    let start = Arc::new(Barrier::new(2));
    let (mut edits, mut refused) = (0, 0);
    for race in 0..RACES {
        let (_, openings) = desk.opened();
        let opened = state("erhu", 2 * race).to_text();
        let (host, ready) = (Arc::clone(&desk), Arc::clone(&start));
        let host = thread::spawn(move || {
            ready.wait();
            host.set(opened);
        });
        start.wait();
        match desk.edit(openings, |state| state.set_seed(2 * race + 1)) {
            Ok(is_changed) => edits += u64::from(is_changed),
            Err(Outdated) => refused += 1,
        }
        host.join().expect("it opens");
        let playing = tray.take().expect("something new").first().expect("a patch").seed;
        assert_eq!(playing, desk.state().seed(), "in race {race}");
        assert_eq!(playing, 2 * race, "the host's project comes last or alone");
    }
    assert_eq!(edits + refused, RACES, "{edits} edits, {refused} refused");
}

/// The settings of a change take the place of a project's that nobody has taken yet.
#[test]
fn a_change_before_the_player_has_heard_of_a_project_keeps_its_articulation() {
    let desk = Desk::shipped();
    let mut opened = state("violin", 3);
    opened.set_articulation(Some(9));
    desk.set(opened.to_text());
    let (_, openings) = desk.opened();
    assert_eq!(desk.edit(openings, |state| state.set_seed(4)), Ok(true));
    assert_eq!(desk.state().articulation(), Some(9));
    let bank = desk.tray().take().expect("settings");
    assert_eq!(bank.first().expect("a patch").seed, 4);
    let opening = bank.opening.expect("the player hears of the project");
    assert_eq!((opening.number, opening.articulation), (openings, Some(9)));
    let patch = *bank.first().expect("a patch");
    desk.set(opened.to_text());
    assert_eq!(desk.try_out(desk.openings(), &patch), Ok(()));
    let bank = desk.tray().take().expect("a trial");
    assert_eq!(bank.opening.expect("the project").articulation, Some(9), "a trial too");
}

/// The player may say what was chosen in the project before when the host has opened another.
#[test]
fn what_was_chosen_in_the_project_before_is_not_kept_with_the_next() {
    let desk = Desk::shipped();
    let tray = desk.tray();
    desk.set(state("violin", 3).to_text());
    tray.choose(1, Some(4));
    assert_eq!(desk.state().articulation(), Some(4));
    desk.set(state("violin", 5).to_text());
    tray.choose(1, Some(6));
    assert_eq!(desk.state().articulation(), None);
    tray.choose(2, Some(7));
    assert_eq!(desk.state().articulation(), Some(7));
    assert!(desk.map(|text| text.contains("\"articulation\":7")));
}
