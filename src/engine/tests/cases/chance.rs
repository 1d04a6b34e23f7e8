//! Human unevenness: off at nothing, as wide as asked for, and the same wherever playback began.

use crate::music::{bends, even_violin, only, song};
use crate::rehearsal::{RATE_HZ, Score, Sent, output, perform, watch};
use polso_engine::Layer;
use polso_engine::math::chance::{Chance, Stray, song_place};
use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, Patch};

/// What makes the spread of whole cycles 1.
const SPREAD: f64 = 1.0 / 0.829_78;

/// How ten thousand cycles stray: their mean, their spread and what one keeps of the last.
/// Each figure within four of its own standard errors of what the recipe gives.
fn check(sentence: &str, draw: impl Fn(u32) -> f64) {
    let mut stray = Stray::begin(draw(0), draw(1));
    let mut cycles = Vec::new();
    for cycle in 2..10_002 {
        cycles.push(stray.at(0.0));
        stray.next_cycle(draw(cycle));
    }
    let count = cycles.len() as f64;
    let mean = cycles.iter().sum::<f64>() / count;
    let spread = (cycles.iter().map(|g| (g - mean) * (g - mean)).sum::<f64>() / count).sqrt();
    let pairs = cycles.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean));
    let kept = pairs.sum::<f64>() / (count - 1.0) / (spread * spread);
    let found = format!("mean {mean}, spread {spread}, kept {kept}");
    // A normal draw clipped at ±2 has the variance 0.95450 − 4·0.05399 + 8·0.02275 = 0.92054, so
    // the spread 0.95945. Clipping is odd: its first Hermite part, 0.9545² = 0.91107 of that,
    // keeps ρ = 0.5, the next keeps ρ³: (0.45553 + 0.0012)/0.92054 = 0.496. The mean of n such
    // cycles has the error 0.95945·sqrt((1 + ρ)/(1 − ρ)/n) = 0.0166, the spread about 0.009, the
    // correlation sqrt((1 − ρ²)/n) = 0.0087. All of it is 1/0.82978 as wide, so that the mean of
    // two neighbours, which is what a cycle is heard by, has the spread 1.
    assert!(mean.abs() < 4.0 * 0.0166 * SPREAD, "{sentence}: {found}");
    assert!((spread - 0.959_45 * SPREAD).abs() < 4.0 * 0.009 * SPREAD, "{sentence}: {found}");
    let heard = cycles.windows(2).map(|pair| (pair[0] + pair[1]) / 2.0 - mean);
    let heard = (heard.map(|g| g * g).sum::<f64>() / (count - 1.0)).sqrt();
    assert!((heard - 1.0).abs() < 4.0 * 0.011, "{sentence}: whole cycles spread by {heard}");
    assert!((kept - 0.496).abs() < 4.0 * 0.0087, "{sentence}: {found}");
    let furthest = cycles.iter().fold(0.0, |furthest: f64, g| furthest.max(g.abs()));
    assert_eq!(furthest, 2.0 * SPREAD, "{sentence}: clipped at two spreads, and it comes there");
}

/// One style of 100 cents at 5 Hz, even about the pitch, on the bend wheel.
fn swinging(rate_spread: f64, width_spread: f64) -> Patch {
    let mut patch = only(even_violin(), output(Layer::Pitch, Address::PitchBend, -1.0, 1.0));
    let style = &mut patch.vibrato.styles[0];
    style.width_cents = Curve::constant(100.0);
    style.rate_hz = Curve::constant(5.0);
    (style.share_above, style.sharpness) = (0.5, 1.0);
    patch.vibrato.style_count = 1;
    (patch.vibrato.rate_spread, patch.vibrato.width_spread) = (rate_spread, width_spread);
    patch
}

fn note() -> Score {
    Score::new().gesture(0.0, 1.0).on(1.0, 64)
}

/// The bends from a time on, counted from there.
fn bends_from(sent: &[Sent], from_s: f64) -> Vec<(u64, u16)> {
    let from_frame = (from_s * RATE_HZ).round() as u64;
    let after = bends(sent).into_iter().map(|(at_s, bend)| ((at_s * RATE_HZ).round() as u64, bend));
    after
        .filter(|(frame, _)| *frame >= from_frame)
        .map(|(f, bend)| (f - from_frame, bend))
        .collect()
}

#[test]
fn cycles_stray_as_a_first_order_chain_of_clipped_normal_draws() {
    for (seed, key) in [(1, 64), (2, 64), (1, 71), (0xFFFF_FFFF_FFFF_FFFF, 127)] {
        let chance = Chance { voice: 0, place: song_place(17.25), key };
        check(&format!("rate, seed {seed}, key {key}"), |cycle| chance.draw(seed, cycle).0);
        check(&format!("width, seed {seed}, key {key}"), |cycle| chance.draw(seed, cycle).1);
    }
}

#[test]
fn first_cycles_of_many_notes_stray_as_much_as_the_cycles_of_one() {
    // Ten thousand notes, each at its own place of the song: the chance of a place is as good as
    // that of a cycle.
    check("places", |note| {
        let place = song_place(f64::from(note) / 2.0);
        Chance { voice: 0, place, key: 64 }.draw(7, 0).0
    });
}

#[test]
fn rate_and_width_stray_apart() {
    // Two independent draws: the correlation of n pairs has the error 1/sqrt(n) = 0.01.
    let chance = Chance { voice: 0, place: song_place(4.0), key: 64 };
    let pairs = (0..10_000).map(|cycle| chance.draw(3, cycle));
    let correlation = pairs.map(|(rate, width)| rate * width).sum::<f64>() / 10_000.0;
    assert!(correlation.abs() < 0.04, "{correlation}");
}

#[test]
fn across_a_cycle_the_straying_is_a_straight_line() {
    // ρ = 0.5: from 1.0 to 0.5·1.0 + 0.8660254·0.4 = 0.84641016; then 0.5·0.84641016 + 0.8660254.
    let mut stray = Stray::begin(1.0, 0.4);
    for (turn, expected) in [(0.0, 1.0), (0.5, 0.923_205_1), (1.0, 0.846_410_2)] {
        assert!((stray.at(turn) - SPREAD * expected).abs() < 1e-6, "{}", stray.at(turn));
    }
    stray.next_cycle(1.0);
    assert!((stray.at(0.0) - SPREAD * 0.846_410_2).abs() < 1e-6);
    assert!((stray.at(1.0) - SPREAD * 1.289_230_5).abs() < 1e-6);
    // Clipped where it is heard, not where it is remembered: 3 is heard as 2, and 0.5·3 follows.
    let far = Stray::begin(3.0, 0.0);
    assert_eq!((far.at(0.0), far.at(1.0)), (2.0 * SPREAD, 1.5 * SPREAD));
}

#[test]
fn at_nothing_it_is_exactly_off() {
    // Pace 0.5, onset 0.126 s: at 2.126 s five whole cycles have passed, at 2.176 s a quarter
    // more. Every peak is 50 cents, whatever the seed.
    for seed in [1, 2, 3] {
        let mut patch = swinging(0.0, 0.0);
        patch.seed = seed;
        let (views, _) = watch(&patch, &note(), 4.0);
        for cycle in 5..14 {
            let start_s = 1.126 + 0.2 * f64::from(cycle);
            for (age_s, cents) in [(0.05, -50.0), (0.1, 0.0), (0.15, 50.0)] {
                let pitch = crate::music::at(&views, start_s + age_s).pitch_cents;
                assert!((pitch - cents).abs() < 1e-6, "{pitch} in cycle {cycle}");
            }
        }
    }
}

#[test]
fn the_rate_and_the_width_stray_by_the_spreads_of_the_draws() {
    // The cycle lengths of a long note, against its own draws: cycle n goes at 5·(1 + 0.1·g).
    let (views, _) = watch(&swinging(0.0, 0.2), &note(), 20.0);
    // A peak of cycle n lies a quarter (going down) and three quarters into it; its place in the
    // chain is known from the note's running count, 1, and its key.
    let chance = Chance { voice: 0, place: 1, key: 64 };
    let mut stray = Stray::begin(chance.draw(1, 0).1, chance.draw(1, 1).1);
    for cycle in 0..80 {
        let peak_s = 1.126 + 0.2 * f64::from(cycle) + 0.05;
        if cycle >= 4 {
            let pitch = crate::music::at(&views, peak_s).pitch_cents;
            let expected = -50.0 * (1.0 + 0.2 * stray.at(0.25));
            assert!((pitch - expected).abs() < 1e-6, "{pitch}, not {expected} in cycle {cycle}");
        }
        stray.next_cycle(chance.draw(1, cycle + 2).1);
    }
}

#[test]
fn two_seeds_are_two_performances_and_one_seed_is_one() {
    let with_seed = |seed| {
        let mut patch = swinging(0.05, 0.08);
        patch.seed = seed;
        perform(&patch, RATE_HZ, &[512], &note(), 3.0)
    };
    assert_eq!(with_seed(5), with_seed(5));
    assert_ne!(with_seed(5), with_seed(6));
}

#[test]
fn one_place_in_the_song_is_one_chance_wherever_playback_began() {
    // Beat 12 at 120 a minute. From the start of the song it comes after 6 s and another phrase;
    // from beat 8 after 2 s; from beat 11.5 at half the tempo after 0.5 s.
    let patch = swinging(0.05, 0.08);
    let start = || Score::new().gesture(0.0, 1.0);
    let whole = start().at(0.0, song(0.0)).note(1.0, 2.0, 69).note(2.5, 3.0, 71).on(6.0, 64);
    let later = start().at(0.0, song(8.0)).on(2.0, 64);
    let whole = bends_from(&perform(&patch, RATE_HZ, &[512], &whole, 9.0), 6.0);
    let later = bends_from(&perform(&patch, RATE_HZ, &[512], &later, 5.0), 2.0);
    assert!(whole.len() > 1000, "{}", whole.len());
    assert_eq!(whole, later);
    // Another place is another chance, and so is the place a 48th of a beat (10.4 ms) away; a
    // few milliseconds are not.
    let elsewhere = |on_s: f64| {
        let score = start().at(0.0, song(8.0)).on(on_s, 64);
        bends_from(&perform(&patch, RATE_HZ, &[512], &score, on_s + 3.0), on_s)
    };
    assert_ne!(elsewhere(2.011), later);
    assert_eq!(elsewhere(2.003), later);
    assert_eq!(elsewhere(1.997), later);
}

#[test]
fn a_place_in_the_song_is_a_forty_eighth_of_a_beat() {
    for (beat, same_as, is_same) in [
        (0.0, 0.01, true),
        (0.0, 0.0103, true),
        (0.0, 0.0105, false),
        (12.0, 12.0 - 0.0103, true),
        (12.0, 12.0 + 1.0 / 48.0, false),
        (1.0 / 3.0, 0.333, true),
    ] {
        assert_eq!(song_place(beat) == song_place(same_as), is_same, "{beat} and {same_as}");
    }
}

/// Where the pitch goes down through the note: a violin's cycle begins there.
fn cycle_starts_s(views: &[polso_engine::View]) -> Vec<f64> {
    let pairs =
        views.windows(2).filter(|pair| pair[0].pitch_cents >= 0.0 && pair[1].pitch_cents < 0.0);
    pairs
        .map(|pair| {
            let [a, b] = [pair[0].pitch_cents, pair[1].pitch_cents];
            pair[0].time_s + 0.001 * a / (a - b)
        })
        .collect()
}

/// A cycle at 5·(1 + s·g) Hz, where g goes from a to b over it, lasts ln((1 + sb)/(1 + sa))/(5s(b − a)).
#[test]
fn the_length_of_each_cycle_strays_by_the_rates_own_draws() {
    let (views, _) = watch(&swinging(0.16, 0.0), &note(), 12.0);
    let starts_s = cycle_starts_s(&views);
    let chance = Chance { voice: 0, place: 1, key: 64 };
    let mut stray = Stray::begin(chance.draw(1, 0).0, chance.draw(1, 1).0);
    assert!(starts_s.len() > 45);
    for (cycle, pair) in starts_s.windows(2).take(44).enumerate() {
        let (a, b) = (0.16 * stray.at(0.0), 0.16 * stray.at(1.0));
        let length_s = libm::log((1.0 + b) / (1.0 + a)) / (5.0 * (b - a));
        // The first begins within a tick.
        if cycle > 0 {
            let found_s = pair[1] - pair[0];
            assert!((found_s - length_s).abs() < 0.001, "{found_s}, not {length_s} in {cycle}");
        }
        stray.next_cycle(chance.draw(1, cycle as u32 + 2).0);
    }
}

/// Chance belongs to the note, not to how long the hand has been swinging before it: what the
/// first note left in the chain halves with each cycle.
#[test]
fn a_slurred_notes_cycles_are_counted_from_its_own_beginning() {
    let lowest = |first_on_s: f64| {
        let score = Score::new().at(0.0, song(0.0)).gesture(0.0, 1.0);
        let score = score.on(first_on_s, 64).on(3.0, 66);
        let (views, _) = watch(&swinging(0.0, 0.2), &score, 8.0);
        let starts_s = cycle_starts_s(&views);
        let after = starts_s.into_iter().skip_while(|start_s| *start_s < 3.0).skip(12).take(8);
        let depth = |start_s: f64| {
            let first = (start_s * 1000.0) as usize;
            let cycle = &views[first..first + 200];
            cycle.iter().map(|view| view.pitch_cents).fold(0.0, f64::min)
        };
        after.map(depth).collect::<Vec<_>>()
    };
    let (long, short) = (lowest(0.3), lowest(1.95));
    assert_eq!(long.len(), 8);
    for (a, b) in long.iter().zip(&short) {
        assert!((a - b).abs() < 0.05, "{long:?}, {short:?}");
    }
    let spread = long.iter().fold(0.0, |most: f64, a| most.max((a - long[0]).abs()));
    assert!(spread > 1.0, "{long:?}");
}
