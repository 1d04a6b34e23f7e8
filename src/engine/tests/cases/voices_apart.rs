//! Several voices, each on a channel of its own or each a player of its own: nothing of one reaches another.

use polso_engine::Message;
use polso_engine::patch::{Patch, Source, VoiceKind};

use super::voices::{heard, violin};
use crate::rehearsal::{RATE_HZ, Score, Sent, in_voices, on_channels, patch_with};

/// The notes of a channel, 0..=15, as on or off with milliseconds.
fn notes(sent: &[Sent], wanted: u8) -> Vec<(bool, u8, u64)> {
    let note = |sent: &Sent| {
        let ms = (sent.frame as f64 / RATE_HZ * 1000.0).round() as u64;
        match sent.message {
            Message::NoteOn { channel, key, .. } if channel == wanted => Some((true, key, ms)),
            Message::NoteOff { channel, key, .. } if channel == wanted => Some((false, key, ms)),
            _ => None,
        }
    };
    sent.iter().filter_map(note).collect()
}

fn bend_count(sent: &[Sent], wanted: u8) -> usize {
    let is_own = |sent: &&Sent| matches!(sent.message, Message::PitchBend { channel, value } if channel == wanted && value != 8192);
    sent.iter().filter(is_own).count()
}

#[test]
fn each_voice_of_a_divisi_stays_on_its_channel() {
    let patch = on_channels(violin(VoiceKind::Divisi, 2));
    let score = Score::new().gesture(0.0, 0.8).note(0.1, 1.02, 76).note(0.1, 2.0, 60);
    let score = score.note(1.0, 2.02, 74).note(2.0, 3.0, 62).note(2.0, 3.0, 76);
    let (sent, _) = heard(&patch, &score, 4.0);
    let on = |all: Vec<(bool, u8, u64)>| {
        all.into_iter().filter(|it| it.0).map(|it| (it.1, it.2)).collect::<Vec<_>>()
    };
    assert_eq!(on(notes(&sent, 2)), [(76, 100), (74, 1000), (76, 2000)]);
    assert_eq!(on(notes(&sent, 3)), [(60, 100), (62, 2000)]);
    assert!(notes(&sent, 0).is_empty());
    // Each glides and vibrates by its own bend, and no voice is free: the old note is cut.
    assert!(bend_count(&sent, 2) > 50 && bend_count(&sent, 3) > 50);
    assert!(notes(&sent, 2).contains(&(false, 76, 1000)));
}

#[test]
fn a_key_of_a_chord_goes_on_in_a_free_channel_and_what_it_leaves_stays() {
    let patch = on_channels(violin(VoiceKind::Chords, 3));
    let score = Score::new().gesture(0.0, 0.8).note(0.1, 2.0, 60).note(0.1, 1.5, 67);
    let (sent, views) = heard(&patch, &score.note(1.0, 3.0, 69), 1.3);
    assert_eq!(views.iter().map(|it| it.key).collect::<Vec<_>>(), [Some(69), Some(60), Some(67)]);
    let free = notes(&sent, 4);
    assert_eq!(free, [(true, 69, 1000)]);
    assert!(notes(&sent, 2).len() == 1 && notes(&sent, 3).len() == 1, "both keys still sound");
    // It begins two semitones below, where the other one sounds on.
    let first = sent.iter().find_map(|sent| match sent.message {
        Message::PitchBend { channel: 4, value } if value != 8192 => Some(value),
        _ => None,
    });
    assert!(first < Some(900), "{first:?}");
}

/// Four voices under keys that interleave: what each channel hears is a whole voice, and no other's.
#[test]
fn four_channels_interleaved_cross_nowhere() {
    let patch = on_channels(violin(VoiceKind::Divisi, 4));
    let lows = [58_u8, 65, 76, 88];
    let mut score = Score::new().gesture(0.0, 0.7);
    for step in 0..24_u32 {
        for (part, low) in lows.iter().enumerate() {
            let on_s = 0.1 + 0.4 * f64::from(step) + 0.1 * part as f64;
            let key = low + (step as u8 * 5 + part as u8) % 4;
            score = score.note(on_s, on_s + 0.415, key);
        }
    }
    let (sent, _) = heard(&patch, &score, 12.0);
    for (part, low) in lows.iter().enumerate() {
        // The lowest came first, when nothing said what would lie above it.
        let all = notes(&sent, 2 + part as u8);
        assert_eq!(all.iter().filter(|it| it.0).count(), 24, "part {part}");
        assert!(all.iter().all(|it| (*low..low + 4).contains(&it.1)), "part {part}: {all:?}");
    }
    assert!(sent.iter().all(|sent| (2..6).contains(&sent.message.channel())));
}

#[test]
fn a_pedal_holds_every_voice() {
    let patch = on_channels(violin(VoiceKind::Divisi, 2));
    let score = Score::new().gesture(0.0, 0.5).controller(0.05, 64, 127).note(0.1, 1.0, 76);
    let (sent, views) = heard(&patch, &score.note(0.1, 1.0, 60).controller(2.0, 64, 0), 1.5);
    let pedal = |sent: &Sent| match sent.message {
        Message::Controller { channel, number: 64, value } => Some((channel, value)),
        _ => None,
    };
    let mut pedals: Vec<_> = sent.iter().filter_map(pedal).filter(|it| it.1 > 0).collect();
    pedals.sort_unstable();
    assert_eq!(pedals, [(0, 127), (2, 127), (3, 127)]);
    assert_eq!(views.len(), 2, "both still ring");
}

/// How alike two swings are.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let count = pairs.len() as f64;
    let sums = pairs.iter().fold((0.0, 0.0), |sums, pair| (sums.0 + pair.0, sums.1 + pair.1));
    let (mean_a, mean_b) = (sums.0 / count, sums.1 / count);
    let mut sums = (0.0, 0.0, 0.0);
    for (a, b) in pairs {
        let (a, b) = (a - mean_a, b - mean_b);
        sums = (sums.0 + a * b, sums.1 + a * a, sums.2 + b * b);
    }
    sums.0 / libm::sqrt(sums.1 * sums.2)
}

/// The swing of the two upper voices of a patch, ten seconds from the first second on.
fn pair_of_voices(patch: &Patch) -> f64 {
    let score = Score::new().gesture(0.0, 0.8).on(0.1, 69).on(0.1, 76);
    let mut section = polso_engine::Section::prepare(RATE_HZ, patch);
    let mut pairs = Vec::new();
    let mut tape = crate::rehearsal::Tape::default();
    let events = score.timed(RATE_HZ);
    for block in 0..2200_u64 {
        let start = block * 240;
        let own = events.iter().filter(|(frame, _)| (start..start + 240).contains(frame));
        let input: Vec<_> = own
            .map(|(frame, timed)| polso_engine::Timed { frame: (frame - start) as u32, ..*timed })
            .collect();
        section.process(240, &input, &mut tape);
        if (220..2200).contains(&block) {
            pairs.push((section.view_of(0).pitch_cents, section.view_of(1).pitch_cents));
        }
    }
    correlation(&pairs)
}

#[test]
fn two_players_do_not_vibrate_alike() {
    let all: Vec<f64> = (0..200)
        .map(|seed| {
            let patch = patch_with("violin", "perform", Source::Parameter, seed, 1.0);
            pair_of_voices(&on_channels(in_voices(patch, VoiceKind::Divisi, 2)))
        })
        .collect();
    let mut sizes: Vec<f64> = all.iter().map(|r| r.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    println!("median |r| {:.3}, 95th {:.3}, mean r {mean:.3}", sizes[100], sizes[190]);
    assert!(sizes[100] < 0.2, "median |r| {}", sizes[100]);
    assert!(sizes[190] < 0.6, "95th percentile {}", sizes[190]);
    assert!(mean.abs() <= 0.05, "mean r {mean}");
}

/// A line has no player of its own: only a divisi draws one, by seed and number.
#[test]
fn only_the_players_of_a_divisi_differ() {
    let rates = |kind, seed, spread: f64| {
        let mut patch = patch_with("violin", "perform", Source::Parameter, seed, 0.0);
        patch.voices = in_voices(patch, kind, 2).voices;
        patch.voices.spread = spread;
        let score = Score::new().gesture(0.0, 0.8).on(0.1, 69).on(0.1, 81);
        let (_, views) = heard(&on_channels(patch), &score, 3.0);
        [0, 1].map(|voice: usize| views[voice].rate_hz)
    };
    let [plain, same] = rates(VoiceKind::Chords, 3, 1.0);
    assert_eq!(plain, same);
    assert_eq!(rates(VoiceKind::Divisi, 3, 0.0), [plain; 2]);
    let mut widest = 0.0_f64;
    for seed in 0..40 {
        for (rate, twice) in
            rates(VoiceKind::Divisi, seed, 1.0).into_iter().zip(rates(VoiceKind::Divisi, seed, 2.0))
        {
            let (own, double) = (rate / plain - 1.0, twice / plain - 1.0);
            assert!(own.abs() <= 0.04 && (double - 2.0 * own).abs() < 1e-9, "{own} {double}");
            widest = widest.max(own.abs());
        }
    }
    assert!(widest > 0.03, "{widest}");
}
