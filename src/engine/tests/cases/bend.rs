//! Pitch as numbers: the bend wheel, its range, the player's own bend, and parameters in parts.

use crate::music::{bare, bend, bends, even_violin, only, said, value_at, words};
use crate::rehearsal::{Score, output, watch};
use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, OutputPatch, Patch};
use polso_engine::{Input, Layer};

/// The furthest the bend wheel goes either way while a note swings `width_cents` peak to peak.
fn check(range_semitones: f64, width_cents: f64, lowest: u16, highest: u16) {
    let (_, sent) = watch(&swinging(range_semitones, width_cents), &note(), 4.0);
    let bends: Vec<u16> = bends(&sent).into_iter().map(|(_, bend)| bend).collect();
    let range = (bends.iter().min().copied(), bends.iter().max().copied());
    assert_eq!(range, (Some(lowest), Some(highest)), "{width_cents} cents at ±{range_semitones}");
}

/// One style, even about the pitch, 5 Hz: a peak falls on a tick 50 ms after every zero.
fn swinging(range_semitones: f64, width_cents: f64) -> Patch {
    let mut patch = only(even_violin(), output(Layer::Pitch, Address::PitchBend, -1.0, 1.0));
    patch.target.bend_range_semitones = range_semitones;
    let style = &mut patch.vibrato.styles[0];
    style.width_cents = Curve::constant(width_cents);
    style.rate_hz = Curve::constant(5.0);
    (style.share_above, style.sharpness) = (0.5, 1.0);
    patch.vibrato.style_count = 1;
    patch
}

fn note() -> Score {
    Score::new().gesture(0.0, 1.0).on(1.0, 64)
}

#[test]
fn the_bend_is_eight_thousand_steps_over_the_range() {
    // MIDI 1.0 and arithmetic: 8192 + round(8192·semitones/range), clamped to 0..16383.
    check(2.0, 200.0, 4096, 12_288); // ±1 semitone of ±2
    check(2.0, 100.0, 6144, 10_240); // ±0.5
    check(2.0, 400.0, 0, 16_383); // ±2
    check(2.0, 500.0, 0, 16_383); // beyond the range
    check(48.0, 200.0, 8021, 8363); // ±1 of ±48: 170.67 steps
    check(12.0, 200.0, 7509, 8875); // ±1 of ±12: 682.67 steps
    check(2.0, 0.048_828_125, 8191, 8193); // one step is 0.0244140625 cents
}

#[test]
fn the_first_bytes_of_a_bend_are_its_low_ones() {
    // MIDI 1.0: 00 00 lowest, 00 40 centre, 7F 7F highest.
    for (value, bytes) in [(0, [0xE0, 0, 0]), (8192, [0xE0, 0, 0x40]), (16_383, [0xE0, 0x7F, 0x7F])]
    {
        assert_eq!(bend(value).bytes(), (bytes, 3));
    }
}

#[test]
fn the_players_own_bend_passes_as_it_is() {
    let score = note().message(0.5, bend(12_288)).message(0.6, bend(0)).message(0.7, bend(16_383));
    let (_, sent) = watch(&swinging(2.0, 0.0), &score, 1.0);
    let values: Vec<u16> = bends(&sent).into_iter().map(|(_, bend)| bend).collect();
    assert_eq!(values, [8192, 12_288, 0, 16_383]);
}

#[test]
fn the_players_bend_is_added_to_the_vibrato_and_clipped() {
    // A semitone up (12288) and a swing of ±0.5 (2048 steps); then 1.75 up (15360) and the same,
    // of which the top is cut off.
    let swung = |value: u16| {
        let (_, sent) = watch(&swinging(2.0, 100.0), &note().message(0.5, bend(value)), 4.0);
        let late = bends(&sent).into_iter().filter(|&(at_s, _)| at_s > 2.0).map(|(_, bend)| bend);
        let late: Vec<u16> = late.collect();
        (late.iter().min().copied(), late.iter().max().copied())
    };
    assert_eq!(swung(12_288), (Some(10_240), Some(14_336)));
    assert_eq!(swung(15_360), (Some(13_312), Some(16_383)));
    assert_eq!(swung(1024), (Some(0), Some(3072)));
}

#[test]
fn a_receiver_with_its_own_vibrato_gets_the_players_bend_untouched() {
    let score = note().message(1.5, bend(9000)).message(2.0, bend(8192));
    let (_, sent) = watch(&bare("violin", "generic"), &score, 3.0);
    assert_eq!(bends(&sent), [(1.5, 9000), (2.0, 8192)]);
}

#[test]
fn the_bend_range_is_told_by_registered_parameter_zero_when_asked() {
    // GM2 3.4 and MIDI 1.0: RPN 0 is the bend range, coarse semitones, fine cents; then RPN null.
    for (range_semitones, coarse, fine) in [(2.0, 2, 0), (48.0, 48, 0), (7.5, 7, 50)] {
        let mut patch = swinging(range_semitones, 0.0);
        patch.target.sends_bend_range = true;
        let (_, sent) = watch(&patch, &Score::new(), 0.1);
        let expected = [
            "cc 101 0 @ 0".to_string(),
            "cc 100 0 @ 0".to_string(),
            format!("cc 6 {coarse} @ 0"),
            format!("cc 38 {fine} @ 0"),
            "cc 101 127 @ 0".to_string(),
            "cc 100 127 @ 0".to_string(),
            "bend 8192 @ 0".to_string(),
        ];
        assert_eq!(words(&sent), expected, "±{range_semitones}");
    }
    let (_, sent) = watch(&swinging(2.0, 0.0), &Score::new(), 0.1);
    assert_eq!(words(&sent), ["bend 8192 @ 0"], "only when asked");
    // And again at each resync.
    let mut patch = swinging(2.0, 0.0);
    patch.target.sends_bend_range = true;
    let (_, sent) = watch(&patch, &Score::new().at(0.5, Input::Resync), 1.0);
    assert_eq!(said(&sent, 101), [(0.0, 0), (0.0, 127), (0.5, 0), (0.5, 127)]);
}

#[test]
fn a_modulation_depth_is_told_in_semitones_and_128ths() {
    // GM2 3.4, RPN 5: 00/40 is 50 cents, 01/00 is 100, 00/08 is 6.25 (hexadecimal).
    let depth = output(Layer::Gesture, Address::Registered(5), 0.0, 1.0);
    let patch = only(even_violin(), OutputPatch { max: 128, ..depth });
    for (cents, coarse, fine) in [(50.0, 0, 0x40), (100.0, 1, 0), (6.25, 0, 0x08)] {
        let (_, sent) = watch(&patch, &Score::new().gesture(0.5, cents / 100.0), 0.5);
        let last = |number| said(&sent, number).last().copied();
        assert_eq!(last(6), Some((0.5, coarse)), "{cents} cents");
        assert_eq!(last(38), Some((0.5, fine)), "{cents} cents");
    }
}

#[test]
fn parameters_are_numbered_in_halves_and_nulled_after() {
    // RPN 5 (101, 100) and NRPN 1200 = 9·128 + 48 (99, 98); 0.75 of 16383 is 12287 = 95·128 + 127.
    for (address, coarse, fine) in [
        (Address::Registered(5), [101, 0], [100, 5]),
        (Address::NonRegistered(1200), [99, 9], [98, 48]),
    ] {
        let patch = only(even_violin(), output(Layer::Gesture, address, 0.0, 1.0));
        let (_, sent) = watch(&patch, &Score::new().gesture(0.5, 0.75), 0.5);
        let words: Vec<_> =
            words(&sent).into_iter().filter(|word| word.ends_with("@ 500")).collect();
        let expected = [
            format!("cc {} {} @ 500", coarse[0], coarse[1]),
            format!("cc {} {} @ 500", fine[0], fine[1]),
            "cc 6 95 @ 500".to_string(),
            "cc 38 127 @ 500".to_string(),
            "cc 101 127 @ 500".to_string(),
            "cc 100 127 @ 500".to_string(),
        ];
        assert_eq!(words, expected);
    }
}

#[test]
fn a_pair_sends_its_coarse_half_only_when_it_changes_and_the_fine_half_always_after() {
    // MIDI 1.0: CC 2 coarse, CC 34 fine; a new coarse value zeroes the fine one. Values n/16383:
    // 8192 = 64·128, 8193, 8319 = 64·128 + 127, 8320 = 65·128.
    let patch = only(even_violin(), output(Layer::Gesture, Address::ControllerPair(2), 0.0, 1.0));
    let value = |seconds: f64, raw: f64, score: Score| score.gesture(seconds, raw / 16_383.0);
    let score = value(0.5, 8192.0, Score::new());
    let score = value(1.5, 8193.0, score);
    let score = value(2.5, 8320.0, score);
    let (_, sent) = watch(&patch, &score, 4.0);
    let at = |seconds: f64| {
        let close = |word: &&String| {
            let (_, ms) = word.rsplit_once(' ').expect("a time");
            (ms.parse::<f64>().expect("milliseconds") / 1000.0 - seconds).abs() < 0.5
        };
        words(&sent)
            .iter()
            .filter(close)
            .map(|w| w.split(" @").next().unwrap_or("").to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(at(0.5), ["cc 2 64", "cc 34 0"]);
    assert_eq!(at(1.5), ["cc 34 1"]);
    let last = at(2.5);
    let coarse: Vec<_> = last.iter().filter(|word| word.starts_with("cc 2 ")).collect();
    assert_eq!(coarse, ["cc 2 65"]);
    let place = last.iter().position(|word| word == "cc 2 65").expect("the coarse half");
    assert!(last[place + 1].starts_with("cc 34 "), "{last:?}");
    assert_eq!(last.last().map(String::as_str), Some("cc 34 0"));
}

#[test]
fn pressure_of_a_key_follows_its_note() {
    // Poly pressure needs a note, so it comes right after each note-on, at that key.
    let mut patch = only(even_violin(), output(Layer::Gesture, Address::PolyPressure, 0.0, 1.0));
    patch.dynamics.velocity_share = 0.0;
    let score = Score::new().gesture(0.0, 1.0).on(0.5, 72).on(1.0, 74);
    let (_, sent) = watch(&patch, &score, 1.01);
    let expected =
        ["on 72 64 @ 500", "pressure 72 127 @ 500", "on 74 64 @ 1000", "pressure 74 127 @ 1000"];
    assert_eq!(words(&sent), expected);
}

#[test]
fn a_velocity_can_be_driven() {
    // The gesture as the velocity of each note-on; nothing between the notes, and never 0.
    let patch = only(even_violin(), output(Layer::Gesture, Address::Velocity, 0.0, 1.0));
    for (gesture, velocity) in [(0.0, 1), (0.5, 64), (1.0, 127)] {
        let (_, sent) = watch(&patch, &Score::new().gesture(0.0, gesture).on(0.5, 72), 1.0);
        assert_eq!(words(&sent), [format!("on 72 {velocity} @ 500")]);
    }
}

#[test]
fn width_and_rate_reach_a_receiver_with_its_own_vibrato() {
    // GM2 counts CC 77 and CC 76 from 64. Width 0 to 120 cents on 64 to 127, rate 4.0 to 7.6 Hz on
    // 1 to 127; 90 cents: 64 + 47.25, 7.2 Hz: 1 + 126·3.2/3.6 = 113.
    let mut width = output(Layer::VibratoWidth, Address::Controller(77), 0.0, 120.0);
    width.min = 64;
    let mut rate = output(Layer::VibratoRate, Address::Controller(76), 4.0, 7.6);
    rate.min = 1;
    let patch = crate::music::with(only(even_violin(), width), rate);
    let (_, sent) = watch(&patch, &note(), 4.0);
    assert_eq!(said(&sent, 77).first(), Some(&(0.0, 64)));
    assert_eq!(value_at(&said(&sent, 77), 4.0), Some(111));
    assert_eq!(value_at(&said(&sent, 76), 4.0), Some(113));
}
