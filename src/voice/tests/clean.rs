//! Nothing folds back, nothing clicks, nothing stands beside zero, and silence is silence.

use crate::band::{Band, INSTRUMENTS, Sound};
use crate::rehearsal::patch;
use crate::room::{RATE_HZ, Score};
use crate::spectrum::{level_db, power_db, strange_db};

/// A held note of an instrument, dry: its steady second.
fn steady(sound: Sound, key: u8, wheel: u8) -> Vec<f64> {
    let mut still = patch("violin", "perform");
    still.vibrato.width_scale = 0.0;
    let score = Score::new().wheel(0.0, wheel).note(0.05, 3.0, key);
    let [left, _] = Band::new(&still, 1, sound).play(&score, 2.6);
    let at = |seconds: f64| (seconds * sound.rate_hz) as usize;
    left[at(1.5)..at(2.5)].to_vec()
}

/// Everything that is no partial of the note lies 60 dB below it, up to half the rate.
#[test]
fn nothing_folds_back() {
    let mut worst_db = f64::NEG_INFINITY;
    for (id, ..) in INSTRUMENTS {
        // The highest partials of high keys are those that would fold first.
        for (key, rate_hz) in [(55, 44_100.0), (91, 44_100.0), (103, 44_100.0), (103, 96_000.0)] {
            let samples = steady(Sound { rate_hz, ..Sound::bare(id) }, key, 127);
            let hz = 440.0 * libm::exp2((f64::from(key) - 69.0) / 12.0);
            let strange_db = strange_db(&samples, rate_hz, hz);
            assert!(strange_db < -60.0, "{id}, key {key}, {rate_hz} Hz: {strange_db:.1} dB");
            worst_db = worst_db.max(strange_db);
        }
    }
    println!("at most {worst_db:.1} dB beside the partials");
}

/// The same eyes see a tone that does fold back: a sawtooth that nobody limits.
#[test]
fn what_folds_back_is_seen() {
    let hz = 3_135.96;
    let saw = |place: usize| 2.0 * (hz * place as f64 / 44_100.0).fract() - 1.0;
    let samples: Vec<f64> = (0..44_100).map(saw).collect();
    let strange_db = strange_db(&samples, 44_100.0, hz);
    assert!(strange_db > -30.0, "{strange_db}");
}

#[test]
fn no_offset_and_no_step() {
    for (id, _, key) in INSTRUMENTS {
        let samples = steady(Sound::bare(id), key, 100);
        let offset_db = level_db(&samples, RATE_HZ, 0.0) - power_db(&samples);
        assert!(offset_db < -80.0, "{id}: {offset_db} dB beside zero");
        // A fast line with joins, repeats and ends: no step is larger than a steady tone's own.
        let mut score = Score::new().wheel(0.0, 110);
        for note in 0..24_u8 {
            let on_s = 0.1 + 0.13 * f64::from(note);
            let held_s = [0.12, 0.16, 0.05][usize::from(note % 3)];
            score =
                score.note(on_s, on_s + held_s, key + [0, 2, 4, 2, 7, 0][usize::from(note % 6)]);
        }
        let line = Band::new(&patch("erhu", "perform"), 1, Sound::bare(id)).play(&score, 4.0);
        let bare = steady(Sound::bare(id), key + 7, 127);
        let step = |samples: &[f64]| {
            samples.windows(2).map(|two| (two[1] - two[0]).abs()).fold(0.0, f64::max)
        };
        let (played, held) = (step(&line[0]), step(&bare));
        assert!(played <= 1.3 * held, "{id}: a step of {played}, a steady tone's are {held}");
    }
}

#[test]
fn silence_is_silence() {
    for (id, _, key) in INSTRUMENTS {
        let mut band = Band::new(&patch("violin", "perform"), 1, Sound::whole(id));
        let rest = band.play(&Score::new().wheel(0.0, 100), 0.2);
        assert!(rest.iter().flatten().all(|sample| *sample == 0.0), "{id}: before a note");
        let score = Score::new().wheel(0.0, 100).note(0.1, 0.6, key);
        let sounded = band.play(&score, 6.0);
        let end = &sounded[0][(5.5 * RATE_HZ) as usize..];
        assert!(power_db(&sounded[0]) > -60.0, "{id} is heard");
        assert!(end.iter().all(|sample| *sample == 0.0), "{id}: the room dies away");
        assert!(band.is_silent(), "{id}");
    }
}

/// Numbers so small that a processor slows down never come out, nor do they stand in the room.
#[test]
fn no_denormals() {
    let mut band = Band::new(&patch("violin", "perform"), 1, Sound::whole("violin"));
    let score = Score::new().wheel(0.0, 60).note(0.1, 0.5, 71).note(3.0, 3.2, 74);
    let sides = band.play(&score, 6.0);
    let is_denormal = |sample: &&f64| (**sample as f32).is_subnormal();
    assert_eq!(sides.iter().flatten().filter(is_denormal).count(), 0);
}
