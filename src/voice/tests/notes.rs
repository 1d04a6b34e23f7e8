//! Notes as the voice takes them: levels, colours, joins, double stops, and notes nobody shapes.

use approx::assert_abs_diff_eq;
use polso_voice::{LineVoice, NoteEvent, NoteEvents, VoiceSetup};

use crate::band::{Band, INSTRUMENTS, Sound, timbre};
use crate::rehearsal::patch;
use crate::room::{RATE_HZ, Score, watch};
use crate::spectrum::{level_db, power_db};

fn hz(key: u8) -> f64 {
    440.0 * libm::exp2((f64::from(key) - 69.0) / 12.0)
}

/// A steady note of a violin's dynamics through a sound.
fn held(id: &str, key: u8, wheel: u8) -> Vec<f64> {
    let mut still = patch("violin", "perform");
    still.vibrato.width_scale = 0.0;
    let score = Score::new().wheel(0.0, wheel).note(0.05, 2.0, key);
    let [left, _] = Band::new(&still, 1, Sound::bare(id)).play(&score, 1.5);
    left[(0.9 * RATE_HZ) as usize..(1.4 * RATE_HZ) as usize].to_vec()
}

/// Centre of the partials' power, Hz.
fn centroid_hz(samples: &[f64], key: u8) -> f64 {
    let (mut weighed, mut whole) = (0.0, 0.0);
    for number in 1..=40 {
        let at_hz = hz(key) * f64::from(number);
        if at_hz < 15_000.0 {
            let power = libm::exp10(level_db(samples, RATE_HZ, at_hz) / 10.0);
            weighed += power * at_hz;
            whole += power;
        }
    }
    weighed / whole
}

#[test]
fn louder_is_brighter_by_every_instrument() {
    for (id, _, key) in INSTRUMENTS {
        let [soft, middle, loud] =
            [20, 64, 120].map(|wheel| centroid_hz(&held(id, key, wheel), key));
        println!("{id}: {soft:.0}, {middle:.0}, {loud:.0} Hz");
        assert!(soft * 1.01 < middle && middle * 1.01 < loud, "{id}: {soft} {middle} {loud}");
    }
}

/// A span between fades, so that it matters little where in its periods it begins and ends.
fn faded(span: &[f64]) -> Vec<f64> {
    let turn = std::f64::consts::PI / span.len() as f64;
    let fade = |(place, sample): (usize, &f64)| sample * libm::sin(turn * place as f64);
    span.iter().enumerate().map(fade).collect()
}

/// The resonances that a slide goes through colour the tone, and leave its level alone.
#[test]
fn no_resonance_swings_the_level() {
    let mut slow = patch("violin", "perform");
    slow.vibrato.width_scale = 0.0;
    slow.target.bend_range_semitones = 24.0;
    for (id, _, key) in INSTRUMENTS {
        // A bend over two octaves, and what is heard of it each 20 ms.
        let bend = |step: u16| polso_engine::Message::PitchBend { channel: 0, value: 128 * step };
        let mut score = Score::new().wheel(0.0, 90).on(0.05, key);
        for step in 0..128 {
            score = score.message(0.5 + 0.01 * f64::from(step), bend(step));
        }
        let [left, _] = Band::new(&slow, 1, Sound::bare(id)).play(&score, 1.8);
        let spans = left[(0.5 * RATE_HZ) as usize..].chunks_exact((0.04 * RATE_HZ) as usize);
        let levels: Vec<f64> = spans.map(|span| power_db(&faded(span))).collect();
        let low = levels.iter().copied().fold(f64::INFINITY, f64::min);
        let high = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(high - low < 0.1, "{id}: {:.2} dB", high - low);
    }
}

#[test]
fn a_join_moves_the_tone_and_a_fresh_note_begins_another() {
    let (from, to) = (71, 74);
    let score = Score::new().wheel(0.0, 80).note(0.1, 1.01, from).note(1.0, 2.0, to);
    let mut still = patch("violin", "perform");
    still.vibrato.width_scale = 0.0;
    still.target.bend_range_semitones = 12.0;
    let (views, _) = watch(&still, &score, 1.5);
    assert!(views[1_200].mode != polso_engine::Mode::Fresh);
    let [left, _] = Band::new(&still, 1, Sound::bare("violin")).play(&score, 1.9);
    let part = |from_s: f64, to_s: f64| {
        left[(from_s * RATE_HZ) as usize..(to_s * RATE_HZ) as usize].to_vec()
    };
    let (before, after) = (part(0.6, 0.95), part(1.3, 1.8));
    let beside = |samples: &[f64], one: u8, other: u8| {
        level_db(samples, RATE_HZ, hz(one)) - level_db(samples, RATE_HZ, hz(other))
    };
    assert!(beside(&before, from, to) > 40.0, "{}", beside(&before, from, to));
    assert!(beside(&after, to, from) > 40.0, "{}", beside(&after, to, from));
    // Through the join the tone never falls silent: no span of 10 ms is 6 dB below the next.
    let levels: Vec<f64> = part(0.95, 1.15).chunks(480).map(power_db).collect();
    let lowest = levels.iter().fold(0.0_f64, |low, level| low.min(*level));
    assert!(lowest > power_db(&before) - 6.0, "{levels:?}");
}

#[test]
fn both_notes_of_a_double_stop_sound_until_they_lift() {
    let score = Score::new().wheel(0.0, 80).note(0.1, 2.0, 67).note(0.11, 1.0, 74);
    let [left, _] =
        Band::new(&patch("violin", "perform"), 1, Sound::bare("violin")).play(&score, 3.0);
    let part =
        |from_s: f64| &left[(from_s * RATE_HZ) as usize..((from_s + 0.3) * RATE_HZ) as usize];
    for key in [67, 74] {
        assert!(level_db(part(0.5), RATE_HZ, hz(key)) > -60.0, "{key} sounds");
    }
    assert!(level_db(part(1.5), RATE_HZ, hz(67)) > -60.0, "the lower goes on");
    assert!(power_db(part(2.6)) < -100.0, "and ends");
}

/// A vibrato takes most of a note's power away from its middle: of both notes' middles.
#[test]
fn both_notes_of_a_double_stop_swing() {
    let score = Score::new().wheel(0.0, 110).note(0.1, 3.0, 74).note(0.11, 3.0, 67);
    let middles = |width_scale: f64| {
        let mut patch = patch("violin", "perform");
        patch.vibrato.width_scale = width_scale;
        let [left, _] = Band::new(&patch, 1, Sound::bare("violin")).play(&score, 2.9);
        let part = &left[(1.2 * RATE_HZ) as usize..(2.8 * RATE_HZ) as usize];
        [67, 74].map(|key| level_db(part, RATE_HZ, hz(key)))
    };
    let (still, swinging) = (middles(0.0), middles(1.0));
    for (still, swinging) in still.iter().zip(swinging) {
        assert!(still - swinging > 2.0, "{still} {swinging}");
    }
}

#[test]
fn a_plain_note_is_as_loud_as_it_is_struck() {
    let setup =
        VoiceSetup { timbre: timbre("oboe"), rate_hz: RATE_HZ, channel: 3, has_noise: false };
    let played = |velocity: u8| {
        let mut voice = LineVoice::new(&setup);
        let mut events = NoteEvents::NONE;
        events.push(NoteEvent { channel: 3, key: 70, velocity });
        // Another line's note is not heard.
        events.push(NoteEvent { channel: 4, key: 40, velocity: 127 });
        let mut samples = Vec::new();
        for _ in 0..400 {
            let mut out = [0.0; 48];
            voice.tick_plain(&events, &mut out);
            events.clear();
            samples.extend(out);
        }
        samples.split_off(9_600)
    };
    // GM2 3.3.4's law of volume, 40 log10(v/127).
    for (velocity, db) in [(127, 0.0), (100, -4.1521), (64, -11.9049), (32, -23.9461)] {
        let beside = power_db(&played(velocity)) - power_db(&played(127));
        assert_abs_diff_eq!(beside, db, epsilon = 0.02);
    }
}
