//! However a file is damaged, it gives a clear fault or settings that the engine can trust.

mod sane;

use polso::profile::shipped::SHIPPED;
use polso::profile::{self, Hand, Instrument, Target, load};
use proptest::prelude::*;
use sane::{assert_sane, check_bytes};

/// Files per property: together 2,000.
const CASES: u32 = 1_000;

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
