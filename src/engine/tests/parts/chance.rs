//! Chance by place: the same note of the same song strays alike for ever.

use approx::assert_abs_diff_eq;
use polso_engine::math::chance::{Chance, Stray, song_place};

/// The finaliser is SplitMix64's (Steele, Lea and Flood 2014), the normal draws are Box and
/// Muller's (1958); the numbers come from a second program after these two papers.
#[test]
fn a_draw_depends_on_seed_place_line_key_and_cycle_alone() {
    #[track_caller]
    fn check(seed: u64, (voice, place, key): (u8, u64, u8), cycle: u32, draws: (f64, f64)) {
        let found = Chance { voice, place, key }.draw(seed, cycle);
        assert_abs_diff_eq!(found.0, draws.0, epsilon = 1e-12);
        assert_abs_diff_eq!(found.1, draws.1, epsilon = 1e-12);
    }
    check(0, (0, 0, 0), 0, (-0.450_373_307_717_229, -1.279_690_329_334_499));
    check(1, (0, 1, 69), 1, (-0.434_868_434_711_557, -1.652_148_475_162_712));
    check(7, (3, 1 << 63 | 48, 60), 2, (0.238_254_889_311_282, -0.445_363_977_291_833));
    let (seed, cycle) = (0xDEAD_BEEF_0000_0001, 4_000_000_000);
    check(seed, (7, 5, 127), cycle, (-0.536_915_125_814_981, 0.739_990_145_581_943));
}

/// A 48th of a beat is a place; one that lies exactly between two is the later one.
#[test]
fn a_place_is_a_48th_of_a_beat_and_the_later_one_of_two() {
    const SONG: u64 = 1 << 63;
    for (beat, place) in [
        (0.0, 0),
        (0.25, 12),
        (1.0, 48),
        (10.5, 504),
        (0.49 / 48.0, 0),
        (0.4951 / 48.0, 1),
        (0.5 / 48.0, 1),
        (1.49 / 48.0, 1),
        (1.5 / 48.0, 2),
        (1.0 / 3.0, 16),
    ] {
        assert_eq!(song_place(beat), SONG | place, "beat {beat}");
    }
}

/// What makes the spread of whole cycles' values 1: that of two neighbours' mean in a chain of
/// clipped normal draws is 0.82978 (see `math/chance.rs`).
const SPREAD: f64 = 1.0 / 0.829_78;

/// ρ = 0.5, and √(1 − ρ²) = 0.866 of news, clipped at two spreads (DESIGN 4.3).
#[test]
fn a_cycle_strays_half_as_the_last_did_in_a_straight_line_and_two_spreads_at_most() {
    let mut stray = Stray::begin(1.0, -0.4);
    let second = 0.5 - 0.4 * 0.866_025_403_784_438_6;
    assert_abs_diff_eq!(stray.at(0.0), SPREAD, epsilon = 1e-15);
    assert_abs_diff_eq!(stray.at(0.25), SPREAD * (0.75 + 0.25 * second), epsilon = 1e-15);
    assert_abs_diff_eq!(stray.at(1.0), SPREAD * second, epsilon = 1e-15);
    stray.next_cycle(3.0);
    let third = 0.5 * second + 3.0 * 0.866_025_403_784_438_6;
    assert!(third > 2.0);
    assert_abs_diff_eq!(stray.at(0.0), SPREAD * second, epsilon = 1e-15);
    assert_abs_diff_eq!(stray.at(1.0), SPREAD * 2.0, epsilon = 1e-15);
    // What is clipped is not forgotten by the chain.
    stray.next_cycle(0.0);
    assert_abs_diff_eq!(stray.at(0.0), SPREAD * 2.0, epsilon = 1e-15);
    assert_abs_diff_eq!(stray.at(1.0), SPREAD * 0.5 * third, epsilon = 1e-15);
    let low = Stray::begin(-2.5, 0.0);
    assert_eq!((low.at(0.0), low.at(1.0)), (SPREAD * -2.0, SPREAD * -1.25));
    assert_eq!((Stray::NONE.at(0.0), Stray::NONE.at(0.7)), (0.0, 0.0));
}
