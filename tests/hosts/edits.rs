//! The window changes the project while the host opens another: neither is lost, and what is kept
//! is what plays.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Barrier};
use std::thread;

use nice_plug::params::persist::PersistentField;
use polso::editor::feed::{ChosenSetup, Feed, Order};
use polso::host::live_values::LiveValues;
use polso::host::parameters::Parameters;
use polso::host::performed;
use polso::host::plugin_feed::PluginFeed;
use polso::host::project::{Outdated, Project};
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use polso::host::window_access::WindowAccess;
use polso::profile::wish::SongStretch;

use super::project::text;

/// Projects that the host opens while the window changes one.
const RACES: u64 = 400;

fn state(instrument: &str, seed: u64) -> State {
    State::new(text(instrument), text("perform"), text("wheel"), seed)
}

/// A window over a fresh plugin, and how often the host was told of a change.
fn window() -> (Arc<WindowAccess>, PluginFeed, Arc<AtomicU32>) {
    let (_, live_values) = LiveValues::both_ends();
    let (_, reader) = performed::both_ends();
    let controls = Arc::new(Parameters::neutral());
    let access = Arc::new(WindowAccess::new(controls, Arc::new(live_values), reader));
    let told = Arc::new(AtomicU32::new(0));
    let count = Arc::clone(&told);
    let tell = Arc::new(move || {
        count.fetch_add(1, Ordering::Relaxed);
    });
    let feed = PluginFeed::new(Arc::clone(&access), tell);
    (access, feed, told)
}

/// What the window shows, with another instrument in the slot that plays.
fn setup(access: &WindowAccess, instrument: &str) -> ChosenSetup {
    let (state, _) = access.controls.project.opened();
    let shown = access.shown().slots;
    let mut slots = shown.texts(&state);
    slots[shown.playing].instrument = text(instrument).to_owned();
    let patch = *SlotPatches::of(&state).expect("patches").first().expect("a patch");
    ChosenSetup { slots, slot: shown.playing, patch }
}

fn own_id(state: &State) -> &str {
    let line = state.instruments()[0].lines().find_map(|line| line.strip_prefix("id = "));
    line.expect("an id").trim_matches('"')
}

#[test]
fn a_change_of_a_project_that_the_host_has_closed_is_answered_and_not_made() {
    let (access, mut feed, told) = window();
    let project = &access.controls.project;
    feed.order(Order::Play(Box::new(setup(&access, "violin"))));
    assert_eq!((own_id(&project.opened().0), told.load(Ordering::Relaxed)), ("violin", 1));
    assert!(!access.was_outdated());
    // The window reads and thinks; the host opens another project; the window puts back.
    let late = setup(&access, "cello");
    project.set(state("dizi-d", 7).to_text());
    feed.order(Order::Play(Box::new(late.clone())));
    assert_eq!(project.opened().0, state("dizi-d", 7), "the host's project is not lost");
    assert_eq!(told.load(Ordering::Relaxed), 1, "nothing has changed");
    assert!(access.was_outdated() && !access.was_outdated(), "it is answered, once");
    feed.order(Order::Try(Box::new(late.patch)));
    assert!(access.was_outdated(), "a trial too");
    let playing =
        project.hand_off().take().expect("the host's project").first().expect("a patch").seed;
    assert_eq!(playing, 7);
}

#[test]
fn what_the_window_asks_of_the_song_is_kept_and_played() {
    let (access, mut feed, told) = window();
    let project = &access.controls.project;
    assert_eq!(feed.song_wishes().expect("a song").table(), "");
    let read = "softer 3 dB, vibrato 70 %";
    let stretch =
        SongStretch { from_beat: 8.0, to_beat: 15.5, metre_beat: 1.0, wishes: read.to_owned() };
    feed.order(Order::Ask(vec![stretch.clone()]));
    assert_eq!(project.opened().0.stretches(), std::slice::from_ref(&stretch));
    assert_eq!(told.load(Ordering::Relaxed), 1);
    let playing = project.hand_off().take().expect("something new");
    assert_eq!(playing.first().expect("a patch").retouches.all().len(), 2);
    let table = "3.1..4.4+0/2: softer 3 dB, vibrato 70 %\n";
    assert_eq!(feed.song_wishes().expect("a song").table(), table);
    // Another instrument in the slot is asked for the same.
    feed.order(Order::Play(Box::new(setup(&access, "violin"))));
    let playing = project.hand_off().take().expect("something new");
    assert_eq!(playing.first().expect("a patch").retouches.all().len(), 2);
    assert_eq!(State::parse(&project.map(Clone::clone)).expect("a state").stretches(), [stretch]);
    feed.order(Order::Ask(Vec::new()));
    assert!(project.opened().0.stretches().is_empty());
}

/// The window's changes and the host's projects by two threads; each project has a seed of its own.
#[test]
fn what_is_kept_is_what_plays_whoever_comes_first() {
    let project = Arc::new(Project::shipped());
    let hand_off = project.hand_off();
    let start = Arc::new(Barrier::new(2));
    let (mut edits, mut refused) = (0, 0);
    for race in 0..RACES {
        let (_, openings) = project.opened();
        let opened = state("erhu", 2 * race).to_text();
        let (host, ready) = (Arc::clone(&project), Arc::clone(&start));
        let host = thread::spawn(move || {
            ready.wait();
            host.set(opened);
        });
        start.wait();
        match project.edit(openings, |state| state.set_seed(2 * race + 1)) {
            Ok(is_changed) => edits += u64::from(is_changed),
            Err(Outdated) => refused += 1,
        }
        host.join().expect("it opens");
        let playing = hand_off.take().expect("something new").first().expect("a patch").seed;
        assert_eq!(playing, project.opened().0.seed(), "in race {race}");
        assert_eq!(playing, 2 * race, "the host's project comes last or alone");
    }
    assert_eq!(edits + refused, RACES, "{edits} edits, {refused} refused");
}

/// The settings of a change take the place of a project's that nobody has taken yet.
#[test]
fn a_change_before_the_player_has_heard_of_a_project_keeps_its_articulation() {
    let project = Project::shipped();
    let mut opened = state("violin", 3);
    opened.set_articulation(Some(9));
    project.set(opened.to_text());
    let (_, openings) = project.opened();
    assert_eq!(project.edit(openings, |state| state.set_seed(4)), Ok(true));
    assert_eq!(project.opened().0.articulation(), Some(9));
    let patches = project.hand_off().take().expect("settings");
    assert_eq!(patches.first().expect("a patch").seed, 4);
    let opening = patches.opening.expect("the player hears of the project");
    assert_eq!((opening.number, opening.articulation), (openings, Some(9)));
    let patch = *patches.first().expect("a patch");
    project.set(opened.to_text());
    assert_eq!(project.try_out(project.openings(), &patch), Ok(()));
    let patches = project.hand_off().take().expect("a trial");
    assert_eq!(patches.opening.expect("the project").articulation, Some(9), "a trial too");
}

/// The player may say what was chosen in the project before when the host has opened another.
#[test]
fn what_was_chosen_in_the_project_before_is_not_kept_with_the_next() {
    let project = Project::shipped();
    let hand_off = project.hand_off();
    project.set(state("violin", 3).to_text());
    hand_off.choose(1, Some(4));
    assert_eq!(project.opened().0.articulation(), Some(4));
    project.set(state("violin", 5).to_text());
    hand_off.choose(1, Some(6));
    assert_eq!(project.opened().0.articulation(), None);
    hand_off.choose(2, Some(7));
    assert_eq!(project.opened().0.articulation(), Some(7));
    assert!(project.map(|text| text.contains("\"articulation\":7")));
}

/// From where a hand may fall silent is found while a project plays, and kept with it alone.
#[test]
fn the_place_from_which_silences_may_begin_is_kept_with_its_project() {
    let project = Project::shipped();
    let hand_off = project.hand_off();
    let mut opened = state("violin", 3);
    opened.set_niente_from(Some(-96));
    project.set(opened.to_text());
    assert_eq!(project.opened().0.niente_from(), Some(-96));
    let opening = hand_off.take().expect("settings").opening.expect("the project");
    assert_eq!((opening.number, opening.niente_from), (1, Some(-96)));
    hand_off.open_niente(1, Some(-480));
    assert_eq!(project.opened().0.niente_from(), Some(-480));
    assert!(project.map(|text| text.contains("\"niente_from\":-480")));
    // Edits keep it; the next project has its own.
    assert_eq!(project.edit(1, |state| state.set_seed(4)), Ok(true));
    assert!(project.map(|text| text.contains("\"niente_from\":-480")));
    project.set(state("violin", 5).to_text());
    hand_off.open_niente(1, Some(7));
    assert_eq!(project.opened().0.niente_from(), None);
    hand_off.open_niente(2, Some(288));
    assert_eq!(project.opened().0.niente_from(), Some(288));
    assert_eq!(State::parse(&project.map(Clone::clone)).expect("a state").niente_from(), Some(288));
}
