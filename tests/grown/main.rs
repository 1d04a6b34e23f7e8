//! Files, settings, projects and streams grown from bytes, which shrink to the simplest that fails.

#[path = "../../src/engine/tests/die.rs"]
mod die;
#[path = "../../src/engine/tests/promise/improvised.rs"]
#[allow(dead_code, reason = "only its manner is needed")]
mod improvised;
#[path = "../../src/engine/tests/promise/receivers.rs"]
#[allow(dead_code, reason = "only its patches are needed")]
mod receivers;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
#[path = "../shape/room.rs"]
#[allow(dead_code, reason = "only its promises are needed")]
mod room;
#[path = "../sane/mod.rs"]
mod sane;

mod draw;

mod events;
mod file;
mod profile;
#[cfg(feature = "plugin")]
mod state;

use std::cell::Cell;

use polso::engine::{Message, Origin};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRng, TestRunner};

/// Runs a check over as many strings of bytes, the same every time; what fails is shrunk. Gives
/// how many were taken.
#[track_caller]
fn check(cases: u32, length_max: usize, check: impl Fn(&[u8]) -> Result<bool, String>) -> u32 {
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let mut runner =
        TestRunner::new_with_rng(config, TestRng::deterministic_rng(Default::default()));
    let taken = Cell::new(0);
    let run = |bytes: Vec<u8>| {
        taken.set(taken.get() + u32::from(check(&bytes).map_err(TestCaseError::fail)?));
        Ok(())
    };
    if let Err(error) = runner.run(&vec(any::<u8>(), 0..length_max), run) {
        panic!("{error}");
    }
    taken.get()
}

#[test]
fn a_grown_stream_keeps_the_promises_in_any_blocks() {
    check(400, 200, |bytes| events::check(bytes).map(|()| true));
}

#[test]
fn a_grown_file_is_refused_or_shaped_and_peeled() {
    let (shaped, read) = (Cell::new(0), Cell::new(0));
    check(1_500, 160, |bytes| {
        let (choice, file) = file::grow(bytes);
        read.set(read.get() + u32::from(polso::offline::midi::read::read(&file).is_ok()));
        shaped.set(shaped.get() + u32::from(file::is_shaped(choice, &file)));
        file::check(bytes).map(|()| true)
    });
    // Neither side may run dry, or the test shows nothing.
    let (shaped, read) = (shaped.get(), read.get());
    println!("{read} of 1500 read, {shaped} shaped");
    assert!((400..1_400).contains(&read) && shaped > 200, "{read} read, {shaped} shaped");
}

#[test]
fn a_grown_profile_is_refused_or_played() {
    let taken = check(600, 120, profile::check);
    assert!((100..500).contains(&taken), "{taken} taken");
}

#[cfg(feature = "plugin")]
#[test]
fn a_grown_project_is_refused_or_kept() {
    let taken = check(300, 200, state::check);
    assert!((30..270).contains(&taken), "{taken} taken");
}

#[test]
fn a_key_that_goes_down_twice_is_noticed() {
    let sent = |key, strikes| {
        let message = match strikes {
            true => Message::NoteOn { channel: 0, key, velocity: 64 },
            false => Message::NoteOff { channel: 0, key, velocity: 64 },
        };
        rehearsal::Sent { frame: 0, message, origin: Origin::Note(0) }
    };
    assert!(events::alternate(&[sent(60, true), sent(61, true), sent(60, false)]).is_err());
    assert!(events::alternate(&[sent(60, true), sent(60, true)]).is_err());
    assert!(events::alternate(&[sent(60, false)]).is_err());
    assert!(events::alternate(&[sent(60, true), sent(60, false)]).is_ok());
}
