//! However a file is damaged, it gives a clear fault or settings that the engine can trust.

use polso::engine::curve::{Curve, POINTS_MAX};
use polso::engine::event::Layer;
use polso::engine::patch::{
    ARTICULATIONS_MAX, Address, ChoicePatch, ModePatch, OUTPUTS_MAX, OutputPatch, PATCH_BYTES_MAX,
    Patch, Reading, Response, STRINGS_MAX, STYLES_MAX,
};
use polso::profile::shipped::SHIPPED;
use polso::profile::{self, Any, Hand, Instrument, Target, load};
use proptest::prelude::*;
use std::ops::RangeInclusive;

/// Files per property: together 2,000.
const CASES: u32 = 1_000;

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
fn assert_sane(patch: &Patch) {
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
    assert_within("centre", vibrato.centre, 0.0..=1.0);
    assert_within("rate_spread", vibrato.rate_spread, 0.0..=0.16);
    assert_within("width_spread", vibrato.width_spread, 0.0..=0.20);
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
    assert!(
        target
            .speed_velocity
            .is_none_or(|(slow, fast)| (1..=127).contains(&slow) && (1..=127).contains(&fast))
    );
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

/// The file's bytes give faults, or a patch together with shipped files that is sane.
fn check_bytes(bytes: &[u8]) {
    let any = match Any::check(bytes) {
        Err(faults) => {
            assert!(!faults.is_empty());
            assert!(faults.iter().all(|fault| fault.to_string().contains("; allowed is ")));
            return;
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
            Ok(patch) => assert_sane(&patch),
            Err(error) => assert!(!error.mismatches.is_empty()),
        }
    }
}

/// One damage to the bytes: a byte changed, cut, doubled, or a run of bytes moved.
#[derive(Clone, Debug)]
enum Damage {
    Change(usize, u8),
    Cut(usize, usize),
    Double(usize, usize),
    Move(usize, usize, usize),
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![
        // Mostly what a person types, sometimes any byte.
        (any::<usize>(), prop_oneof![3 => 32_u8..127, 1 => any::<u8>()])
            .prop_map(|(at, byte)| Damage::Change(at, byte)),
        (any::<usize>(), 1_usize..40).prop_map(|(at, count)| Damage::Cut(at, count)),
        (any::<usize>(), 1_usize..40).prop_map(|(at, count)| Damage::Double(at, count)),
        (any::<usize>(), 1_usize..80, any::<usize>())
            .prop_map(|(at, count, to)| Damage::Move(at, count, to)),
    ]
}

fn damaged(text: &str, damages: &[Damage]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for damage in damages {
        let run = |at: usize, count: usize| {
            let start = at % bytes.len();
            start..(start + count).min(bytes.len() - 1).max(start)
        };
        match *damage {
            Damage::Change(at, byte) => {
                let place = at % bytes.len();
                bytes[place] = byte;
            }
            Damage::Cut(at, count) => {
                let run = run(at, count);
                bytes.drain(run);
            }
            Damage::Double(at, count) => {
                let run = run(at, count);
                let copy = bytes[run.clone()].to_vec();
                bytes.splice(run.start..run.start, copy);
            }
            Damage::Move(at, count, to) => {
                let run = run(at, count);
                let moved: Vec<u8> = bytes.drain(run).collect();
                let place = to % bytes.len();
                bytes.splice(place..place, moved);
            }
        }
    }
    bytes
}

/// Values that a field may not expect.
fn value() -> impl Strategy<Value = String> {
    const WORDS: &[&str] = &[
        "nan",
        "-inf",
        "inf",
        "-0.0",
        "1e308",
        "-1e308",
        "5e-324",
        "9223372036854775807",
        "true",
        "\"\"",
        "\"cc 1\"",
        "\"gm2\"",
        "\"keyswitch\"",
        "[]",
        "[[0, 0], [1, 1]]",
        "[62]",
        "{}",
        "[[0.5, 0.5], [0.50000001, 0.6]]",
        "[[0, 1e308], [1, -1e308]]",
        "1979-05-27",
        "\"\\u0007\"",
    ];
    prop_oneof![
        3 => prop_oneof![-1.0..2.0, -300.0..300.0_f64].prop_map(|value| format!("{value:?}")),
        2 => (-5_i64..140).prop_map(|value| value.to_string()),
        2 => prop::sample::select(WORDS).prop_map(str::to_owned),
        1 => prop::collection::vec((0.0..1.0_f64, 0.0..130.0_f64), 1..18).prop_map(|mut points| {
            points.sort_by(|one, other| one.0.total_cmp(&other.0));
            let each = points.iter().map(|(x, y)| format!("[{x:?}, {y:?}]"));
            format!("[{}]", each.collect::<Vec<_>>().join(", "))
        }),
    ]
}

/// The text with one line's value changed, or the line dropped.
fn restated(text: &str, changes: &[(usize, Option<String>)]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let with_values: Vec<usize> =
        (0..lines.len()).filter(|&place| lines[place].contains(" = ")).collect();
    for (choice, value) in changes {
        let place = with_values[choice % with_values.len()];
        let name = lines[place].split(" = ").next().unwrap_or_default().to_owned();
        lines[place] = value.as_ref().map_or(String::new(), |value| format!("{name} = {value}"));
    }
    lines.join("\n")
}

/// The shipped files, and the examples of articulations.
fn texts() -> Vec<&'static str> {
    let shipped = SHIPPED.iter().map(|each| each.text);
    let target = include_str!("../examples/switched.target.toml");
    shipped.chain([target, include_str!("../examples/wheel-and-keys.hand.toml")]).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: CASES, failure_persistence: None, ..Default::default() })]

    #[test]
    fn damaged_bytes_never_crash_and_never_mislead(
        file in 0..texts().len(),
        damages in prop::collection::vec(damage(), 1..5),
    ) {
        check_bytes(&damaged(texts()[file], &damages));
    }

    #[test]
    fn other_values_never_crash_and_never_mislead(
        file in 0..texts().len(),
        changes in prop::collection::vec((any::<usize>(), prop::option::weighted(0.9, value())), 1..4),
    ) {
        check_bytes(restated(texts()[file], &changes).as_bytes());
    }
}

#[test]
fn the_shipped_files_themselves_are_sane() {
    for text in texts() {
        check_bytes(text.as_bytes());
    }
}

#[test]
#[should_panic(expected = "onset_s is inf")]
fn a_patch_that_is_not_sane_is_noticed() {
    let instrument = load::<Instrument>("erhu").expect("instrument").profile;
    let target = load::<Target>("perform").expect("target").profile;
    let hand = load::<Hand>("wheel").expect("hand").profile;
    let mut patch = profile::patch(&instrument, &target, &hand, 1, 1.0).expect("a patch");
    patch.vibrato.onset_s = f64::INFINITY;
    assert_sane(&patch);
}
