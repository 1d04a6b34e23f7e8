//! Takes that nobody would write down: no number that is none, no overload, whatever the instrument.

use polso_engine::patch::Source;

use crate::band::{Band, INSTRUMENTS, Sound, timbre};
use crate::die::Die;
use crate::improvised::{Manner, improvise};
use crate::rehearsal::patch_with;

/// Takes of a sample; with POLSO_PROVE=1 so many are played.
const SAMPLE_COUNT: u64 = 200;
const WHOLE_COUNT: u64 = 10_000;
const LENGTH_S: f64 = 1.5;

#[test]
fn random_takes_sound_without_overload() {
    let is_whole = std::env::var("POLSO_PROVE").is_ok_and(|value| value == "1");
    let count = if is_whole { WHOLE_COUNT } else { SAMPLE_COUNT };
    let mut highest = 0.0_f64;
    for seed in 0..count {
        let mut die = Die(seed);
        let own = die.pick(&["erhu", "violin", "dizi-d"]);
        let (id, ..) = die.pick(&INSTRUMENTS);
        let patch = patch_with(own, "perform", Source::Controller(1), seed, 2.0);
        let manner = Manner {
            source: patch.hand.source,
            length_s: LENGTH_S,
            grid_per_s: die.pick(&[0.0, 8.0]),
            is_wild: die.below(3) > 0,
        };
        let rate_hz = die.pick(&[44_100.0, 48_000.0, 88_200.0, 96_000.0]);
        let sound = Sound { timbre: timbre(id), rate_hz, has_room: true, has_noise: true };
        let mut band = Band::new(&patch, 1 + die.below(2) as usize, sound);
        let sides = band.play(&improvise(seed, &manner), LENGTH_S + 0.3);
        let peak = sides.iter().flatten().fold(0.0_f64, |peak, sample| peak.max(sample.abs()));
        let is_sound = sides.iter().flatten().all(|sample| sample.is_finite());
        assert!(is_sound, "seed {seed}, {id}");
        assert!(peak < 8.0, "seed {seed}, {id}: {peak}");
        highest = highest.max(peak);
    }
    println!("{count} takes, highest peak {highest:.2}");
    assert!(highest > 0.1, "they sound");
}
