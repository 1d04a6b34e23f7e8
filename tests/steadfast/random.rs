//! Ten thousand interruptions at random: whatever happens, nothing hangs and all comes to rest.

use polso::engine::Engine;

use crate::desk::{Fault, RATE_HZ};
use crate::interruptions::run;
use crate::table::whole;

const OPERATIONS: u32 = 10_000;
/// Each run has its own take and seed.
const RUNS: u64 = 50;

/// One run by the engine.
fn played(seed: u64, operations: u32, fault: Fault) -> Result<u32, String> {
    let files = ["violin", "erhu"].map(|name| [whole(name, false), whole(name, true)]).concat();
    run(Engine::prepare(RATE_HZ, &files[0]), &files, seed, operations, fault)
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
    assert!(stops > 800, "{stops} stops are not many");
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
