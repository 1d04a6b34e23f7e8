//! A rehearsal room for the tests: any shipped instrument, receiver and hand.
#![allow(dead_code, unused_imports, reason = "each test file uses its own part of the room")]

#[path = "../../src/engine/tests/room.rs"]
mod room;

use polso::engine::patch::{Patch, Source};
use polso::profile;

pub use room::*;

/// A patch of shipped instrument and target, played by a wheel, even as a machine.
pub fn patch(instrument: &str, target: &str) -> Patch {
    patch_with(instrument, target, Source::Controller(1), 1, 0.0)
}

/// A patch with every choice.
pub fn patch_with(
    instrument: &str,
    target: &str,
    source: Source,
    seed: u64,
    imperfection_scale: f64,
) -> Patch {
    let instrument = profile::load(instrument).expect("a shipped instrument").profile;
    let target = profile::load(target).expect("a target").profile;
    let hand = profile::hand_for(source).expect("a hand").profile;
    profile::patch(&instrument, &target, &hand, seed, imperfection_scale).expect("a patch")
}
