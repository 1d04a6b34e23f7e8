//! The colour of our own voice beside that of real notes: how bright, and which way it goes with level.

use std::path::PathBuf;

use polso::profile::{self, Instrument};

use super::heard_voice::{RATE_HZ, reel, rendered};
use super::readers::answers;
use super::real_notes::{INSTRUMENTS, recordings};
use super::receiver::hz;
use super::sample::figure;
use super::written::take;

/// The wheel: soft, mezzo-forte, loud.
const WHEELS: [u8; 3] = [20, 64, 115];
/// So many of an instrument's recorded notes are compared, from its lowest to its highest.
const NOTES_MAX: usize = 12;
/// The median of our notes lies so near that of the real ones, and most notes do, octaves.
const OFF_OCTAVES_MAX: f64 = 1.0;
const NEAR_SHARE_MIN: f64 = 0.75;

/// What the reader says of each.
fn centres_hz(notes: &[(PathBuf, u8)]) -> Vec<f64> {
    let line = |(path, key): &(PathBuf, u8)| format!("{} {}\n", path.display(), hz(*key));
    let table: String = notes.iter().map(line).collect();
    answers("colour.py", &table).into_iter().map(|numbers| numbers[0]).collect()
}

#[test]
fn our_notes_are_as_bright_as_real_ones_and_brighter_when_loud() {
    let mut said = Vec::new();
    for id in INSTRUMENTS {
        let range = profile::load::<Instrument>(id).expect("an instrument").profile.range;
        let mut real = recordings(id);
        real.retain(|(_, key)| (range.hard_keys.0..=range.hard_keys.1).contains(key));
        real.sort_by_key(|(_, key)| *key);
        let step = real.len().div_ceil(NOTES_MAX);
        let real: Vec<(PathBuf, u8)> = real.into_iter().step_by(step).collect();
        let theirs = centres_hz(&real);
        let sounds: Vec<_> = real
            .iter()
            .flat_map(|(_, key)| WHEELS.map(|wheel| (*key, wheel)))
            .map(|(key, wheel)| {
                let samples = rendered(&take(&[(key, 0, 2_000)], &[(0, wheel)]), id, |_| ());
                let length_s = samples.len() as f64 / f64::from(RATE_HZ);
                (reel(&[samples], length_s), key)
            })
            .collect();
        let ours: Vec<_> = sounds.iter().map(|(it, key)| (it.path().to_owned(), *key)).collect();
        let ours = centres_hz(&ours);
        let mut off: Vec<f64> = Vec::new();
        for ((theirs, ours), (_, key)) in theirs.iter().zip(ours.chunks(3)).zip(&real) {
            println!("{id}, key {key}: real {theirs:.0} Hz, ours {ours:.0?}");
            assert!(ours[0] < ours[1] && ours[1] < ours[2], "{id}, key {key}: {ours:?}");
            off.push(libm::log2(ours[1] / theirs));
        }
        let near = off.iter().filter(|off| off.abs() <= OFF_OCTAVES_MAX).count();
        let share = near as f64 / off.len() as f64;
        off.sort_by(f64::total_cmp);
        let median = off[off.len() / 2];
        assert!(median.abs() <= OFF_OCTAVES_MAX && share >= NEAR_SHARE_MIN, "{id}: {off:?}");
        said.push(format!("{id} {median:+.2} ({near} of {} within one)", off.len()));
    }
    figure("voice-colour", &format!("octaves from real notes, median: {}", said.join(", ")));
}
