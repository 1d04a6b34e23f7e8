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
#[path = "../sample/mod.rs"]
mod sample;
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

/// How many times as many strings of bytes if all is to be proven.
const PROVEN_TIMES: u32 = 20;

/// Runs a check over as many strings of bytes, the same every time; what fails is shrunk. Gives
/// how many there were and how many of them were taken.
#[track_caller]
fn check(
    name: &str,
    cases: u32,
    length_max: usize,
    check: impl Fn(&[u8]) -> Result<bool, String>,
) -> (u32, u32) {
    let cases = cases * if sample::is_whole() { PROVEN_TIMES } else { 1 };
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
    sample::figure(&format!("grown-{name}"), &format!("{cases} {name}, {} taken", taken.get()));
    (cases, taken.get())
}

/// Neither side may run dry, or the test shows nothing.
#[track_caller]
fn assert_share((cases, taken): (u32, u32), percent: std::ops::Range<u32>) {
    assert!(percent.contains(&(100 * taken / cases)), "{taken} of {cases} taken");
}

#[test]
fn a_grown_stream_keeps_the_promises_in_any_blocks() {
    check("streams", 400, 200, |bytes| events::check(bytes).map(|()| true));
}

#[test]
fn a_grown_file_is_refused_or_shaped_and_peeled() {
    let shaped = Cell::new(0);
    let (cases, read) = check("files", 1_500, 160, |bytes| {
        let (choice, file) = file::grow(bytes);
        shaped.set(shaped.get() + u32::from(file::is_shaped(choice, &file)));
        let is_read = polso::offline::midi::read::read(&file).is_ok();
        file::check(bytes).map(|()| is_read)
    });
    assert_share((cases, read), 25..95);
    assert_share((cases, shaped.get()), 14..95);
}

#[test]
fn a_grown_profile_is_refused_or_played() {
    assert_share(check("profiles", 600, 120, profile::check), 16..84);
}

#[cfg(feature = "plugin")]
#[test]
fn a_grown_project_is_refused_or_kept() {
    assert_share(check("projects", 300, 200, state::check), 10..90);
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
