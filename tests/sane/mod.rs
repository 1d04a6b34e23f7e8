//! Every value of a patch is within what the engine was promised, whatever file it came from.
#![allow(dead_code, reason = "each test file uses its own part")]

use polso::engine::Layer;
use polso::engine::math::curve::{Curve, POINTS_MAX};
use polso::engine::patch::{
    ARTICULATIONS_MAX, Address, ChoicePatch, JoinedVelocity, ModePatch, OUTPUTS_MAX, OutputPatch,
    PATCH_BYTES_MAX, Patch, Reading, Response, STRINGS_MAX, STYLES_MAX,
};
use polso::profile::{self, Any, Hand, Instrument, Target, load};
use std::ops::RangeInclusive;

fn assert_within(name: &str, value: f64, range: RangeInclusive<f64>) {
    assert!(range.contains(&value), "{name} is {value}; the engine allows {range:?}");
}

fn assert_curve(name: &str, curve: &Curve, y: RangeInclusive<f64>) {
    let points: Vec<(f64, f64)> = curve.points().collect();
    assert!((1..=POINTS_MAX).contains(&points.len()), "{name}");
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    let slack = 1e-9 * (1.0 + y.end().abs());
    let y = y.start() - slack..=y.end() + slack;
    for step in -1..=65 {
        let x = first + (last - first) * f64::from(step) / 64.0;
        assert_within(name, curve.at(x), y.clone());
    }
}

/// Every value of the patch is finite and within what `engine::patch` promises of it.
pub fn assert_sane(patch: &Patch) {
    assert!(size_of_val(patch) <= PATCH_BYTES_MAX);
    assert_hand_is_sane(patch);
    let dynamics = &patch.dynamics;
    assert_within("ceiling", dynamics.ceiling, 0.0..=1.0);
    assert_within("floor", dynamics.floor, 0.0..=dynamics.ceiling);
    assert_curve("dynamics", &dynamics.curve, 0.0..=1.0);
    assert_within("accent", dynamics.accent, 0.0..=1.0);
    assert_within("span_db", dynamics.span_db, 1.0..=120.0);
    assert_within("velocity_share", dynamics.velocity_share, 0.0..=1.0);
    assert_vibrato_is_sane(patch);
    let legato = &patch.legato;
    assert!(legato.edges.is_sorted_by(|low, high| low < high));
    assert_within("lowest edge", legato.edges[0], 0.0..=1.0);
    assert_within("highest edge", legato.edges[2], 0.0..=1.0);
    assert_within("hysteresis", legato.hysteresis, 0.0..=0.1);
    assert_within("join_gap_s", legato.join_gap_s, 0.0..=0.03);
    assert_within("slide_s", legato.slide_s, 0.001..=10.0);
    assert_strings_are_sane(patch);
    assert_within("tail_s", patch.tail.tail_s, 0.0..=10.0);
    assert_within("tail_db", patch.tail.tail_db, 0.0..=120.0);
    assert_within("lift", patch.tail.lift, 0.0..=1.0);
    assert_target_is_sane(patch);
}

fn assert_hand_is_sane(patch: &Patch) {
    let hand = &patch.hand;
    assert_within("low", hand.low, 0.0..=1.0);
    assert_within("high", hand.high, 0.0..=1.0);
    assert!(hand.high > hand.low);
    assert_within("dead_zone_rest", hand.dead_zone_rest, 0.0..=0.4);
    assert_within("dead_zone_full", hand.dead_zone_full, 0.0..=0.4);
    assert_within("rest", hand.rest, 0.0..=1.0);
    assert_within("weight", hand.weight, 0.5..=3.0);
    let keys: Vec<u8> = hand.articulation_keys.iter().copied().flatten().collect();
    for (place, key) in keys.iter().enumerate() {
        assert!(*key <= 127 && !keys[..place].contains(key));
    }
    match &hand.response {
        Response::Points(curve) => assert_curve("response", curve, 0.0..=1.0),
        Response::Exponential(k) => assert_within("k", *k, -6.0..=6.0),
    }
}

fn assert_vibrato_is_sane(patch: &Patch) {
    let vibrato = &patch.vibrato;
    assert!((1..=STYLES_MAX).contains(&vibrato.style_count));
    for style in &vibrato.styles {
        assert_curve("width_cents", &style.width_cents, 0.0..=400.0);
        assert_curve("rate_hz", &style.rate_hz, 2.0..=9.0);
        assert_within("share_above", style.share_above, 0.0..=1.0);
        assert_within("sharpness", style.sharpness, 1.0..=2.0);
        assert_within("level_swing_db", style.level_swing_db, 0.0..=60.0);
        assert_within("centre", style.centre, 0.0..=1.0);
    }
    let mut before = 0.0;
    for &(begin, end) in &vibrato.edges[..vibrato.style_count - 1] {
        assert_within("edge", begin, before - 1e-9..=1.0);
        assert_within("edge", end, begin + 1e-6..=1.0);
        before = end;
    }
    assert_within("quick_through", vibrato.quick_through, 1.0..=10.0);
    assert_within("onset_s", vibrato.onset_s, 0.0..=10.0);
    assert_within("growth_s", vibrato.growth_s, 0.001..=10.0);
    assert_within("join_keep", vibrato.join_keep, 0.0..=1.0);
    assert_within("join_recover_s", vibrato.join_recover_s, 0.001..=10.0);
    assert_within("register_per_semitone", vibrato.register_per_semitone, -0.1..=0.1);
    assert_within("rate_spread", vibrato.rate_spread, 0.0..=0.16);
    assert_within("width_spread", vibrato.width_spread, 0.0..=0.25);
    assert_within("settle_s", vibrato.settle_s, 0.001..=5.0);
    assert_within("arch", vibrato.arch, 0.0..=0.15);
    assert_within("brightness_swing", vibrato.brightness_swing, 0.0..=1.0);
}

fn assert_strings_are_sane(patch: &Patch) {
    let strings = &patch.strings;
    assert!(strings.count <= STRINGS_MAX);
    let used = &strings.strings[..strings.count];
    assert!(used.is_sorted_by(|low, high| low.open_key < high.open_key));
    for string in used {
        assert!(string.open_key <= 127 && string.span_semitones >= 1);
        assert_within("length_m", string.length_m, 0.01..=3.0);
    }
    let open_keys = used.iter().fold(0_u128, |keys, string| keys | 1 << string.open_key);
    assert_eq!(strings.forced_open_keys & !open_keys, 0);
}

fn assert_target_is_sane(patch: &Patch) {
    let target = &patch.target;
    assert!(target.output_count <= OUTPUTS_MAX);
    assert_within("bend_range_semitones", target.bend_range_semitones, 1.0..=96.0);
    for output in &target.outputs[..target.output_count] {
        assert_output_is_sane(output, patch);
    }
    let numbers = match target.mode {
        ModePatch::Silent => [None; 5],
        ModePatch::Keyswitch { keys, velocity, .. } => {
            assert!((1..=127).contains(&velocity));
            keys
        }
        ModePatch::Program(numbers) => numbers,
        ModePatch::Controller { number, values } => {
            assert!(number <= 119);
            values
        }
    };
    assert!(numbers.iter().flatten().all(|number| *number <= 127));
    let articulation = &target.articulation;
    assert!(usize::from(articulation.usual) < ARTICULATIONS_MAX);
    for place in 0..ARTICULATIONS_MAX {
        assert!(articulation.choice.value(place).is_none_or(|value| value <= 127));
        let played = usize::from(articulation.played(place as u8));
        let is_silent = articulation.choice == ChoicePatch::Silent;
        assert!(is_silent || articulation.choice.value(played).is_some(), "{place} has no value");
    }
    assert!(target.slide.is_none_or(|slide| slide.time <= 127));
    if let JoinedVelocity::Speed { slow, fast } = target.joined_velocity {
        assert!((1..=127).contains(&slow) && (1..=127).contains(&fast));
    }
    let notes = &patch.notes;
    assert!(notes.lowest_key < notes.highest_key && notes.highest_key <= 127);
    assert!((1..=8).contains(&notes.voice_count));
}

fn assert_output_is_sane(output: &OutputPatch, patch: &Patch) {
    match output.address {
        Address::Controller(number) => assert!(number <= 119),
        Address::ControllerPair(number) => assert!(number <= 31),
        Address::Registered(number) | Address::NonRegistered(number) => assert!(number <= 16383),
        _ => {}
    }
    assert!(output.min < output.max && output.max <= output.address.raw_max());
    assert!(output.rest <= output.address.raw_max());
    assert!(output.low.is_finite() && output.high.is_finite() && output.low < output.high);
    assert_within("interval_s", output.interval_s, 0.001..=1.0);
    let is_level = matches!(output.layer, Layer::Dynamics | Layer::Expression);
    match &output.reading {
        Reading::Straight => {}
        Reading::Response(curve) => {
            assert!(!is_level);
            assert_curve("response", curve, 0.0..=1.0);
        }
        Reading::Gm2 => assert!(is_level),
        Reading::Table(curve) => {
            assert!(is_level);
            assert_curve("table", curve, 0.0..=1.0);
        }
    }
    match output.layer {
        Layer::StyleWeight(place) => assert!(usize::from(place) < patch.vibrato.style_count),
        Layer::Legato | Layer::Articulation | Layer::Slide => {
            panic!("{:?} is not an output", output.layer)
        }
        _ => {}
    }
}

/// The file's bytes give faults, or a patch together with shipped files that is sane; the patches.
pub fn check_bytes(bytes: &[u8]) -> Vec<Patch> {
    let mut patches = Vec::new();
    let any = match Any::check(bytes) {
        Err(faults) => {
            assert!(!faults.is_empty());
            assert!(faults.iter().all(|fault| fault.to_string().contains("; allowed is ")));
            return patches;
        }
        Ok(any) => any,
    };
    let dizi = load::<Instrument>("dizi-d").expect("instrument").profile;
    let perform = load::<Target>("perform").expect("target").profile;
    let wheel = load::<Hand>("wheel").expect("hand").profile;
    let instrument = any.instrument().map_or(&dizi, |loaded| &loaded.profile);
    let target = any.target().map_or(&perform, |loaded| &loaded.profile);
    let hand = any.hand().map_or(&wheel, |loaded| &loaded.profile);
    for scale in [0.0, 1.0, 2.0] {
        match profile::patch(instrument, target, hand, 1, scale) {
            Ok(patch) => {
                assert_sane(&patch);
                patches.push(patch);
            }
            Err(error) => assert!(!error.mismatches.is_empty()),
        }
    }
    patches
}
