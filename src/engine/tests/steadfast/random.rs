//! Ten thousand interruptions at random: whatever happens, nothing hangs and all comes to rest.

use polso_engine::Section;
use polso_engine::patch::{ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, Patch, VoiceKind};

use super::interruptions::{ARTICULATION_KEY, run};
use super::table::whole;
use super::test_host::{Fault, RATE_HZ};
use crate::rehearsal::{in_voices, on_channels};

const OPERATIONS: u32 = 10_000;
/// Each run has its own take and seed.
const RUNS: u64 = 50;

/// A patch whose articulations are told by keys too, one of them by none.
fn spoken(instrument: &str, is_held: bool) -> Patch {
    let mut patch = whole(instrument, is_held);
    let mut keys = [None; ARTICULATIONS_MAX];
    (30..33).zip(&mut keys).for_each(|(key, own)| *own = Some(key));
    let choice = ChoicePatch::Keyswitch { keys, velocity: 100, is_held: !is_held };
    patch.target.articulation = ArticulationPatch { choice, usual: 1 };
    let own = patch.hand.articulation_keys.iter_mut().take(4);
    own.zip(ARTICULATION_KEY..).for_each(|(own, key)| *own = Some(key));
    patch
}

/// One run by the engine.
fn played(seed: u64, operations: u32, fault: Fault) -> Result<u32, String> {
    let files = ["violin", "erhu"].map(|name| [spoken(name, false), spoken(name, true)]).concat();
    run(Section::prepare(RATE_HZ, &files[0]), &files, seed, operations, fault)
}

/// The same by 2, 4 or 8 voices, on one channel or on their own, which other settings exchange.
fn played_in_voices(seed: u64, operations: u32) -> Result<u32, String> {
    let violin = spoken("violin", seed.is_multiple_of(2));
    let kind = |it| if it { VoiceKind::Chords } else { VoiceKind::Divisi };
    let counts = [2, 4, 8, 4].into_iter().enumerate();
    let mut files: Vec<Patch> =
        counts.map(|(place, count)| in_voices(violin, kind(place % 2 == 0), count)).collect();
    files[3] = on_channels(files[3]);
    files.rotate_left(seed as usize % 4);
    run(Section::prepare(RATE_HZ, &files[0]), &files, seed, operations, Fault::None)
}

#[test]
fn ten_thousand_random_operations_leave_nothing_sounding() {
    let mut stops = 0;
    for seed in 0..RUNS {
        match played(seed, OPERATIONS / RUNS as u32, Fault::None) {
            Ok(count) => stops += count,
            Err(breach) => panic!("{breach}; `played(seed, …)` plays it again"),
        }
    }
    assert!(stops > 700, "{stops} stops are not many");
}

#[test]
fn random_operations_leave_none_of_several_voices_sounding() {
    for seed in 0..RUNS {
        if let Err(breach) = played_in_voices(seed, OPERATIONS / RUNS as u32) {
            panic!("{breach}; `played_in_voices(seed, …)` plays it again");
        }
    }
}

#[test]
fn a_planted_fault_is_caught_and_its_seed_plays_it_again() {
    for fault in [Fault::SilentStop, Fault::LostOff(7)] {
        let found = (0..RUNS).find_map(|seed| Some((seed, played(seed, 200, fault).err()?)));
        let (seed, breach) = found.expect("the fault is noticed");
        assert!(breach.starts_with(&format!("seed {seed}, ")), "{breach}");
        assert_eq!(played(seed, 200, fault), Err(breach));
        assert!(played(seed, 200, Fault::None).is_ok());
    }
}
