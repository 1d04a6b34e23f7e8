//! Ten thousand takes that nobody would play, whole and damaged: a result or an error, never a crash.

use super::room::{file, promises, settings};
use polso::offline::midi::{Bars, Division, MetreMap, Track, TrackEvent, read::read};
use polso::offline::peel::peel;
use polso::offline::{Error, LaneRule, Settings, shape_bytes, shape_over_lanes};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

/// One event after a wait of so many 24ths of a quarter note.
type Step = (u64, Vec<u8>);

fn division() -> impl Strategy<Value = Division> {
    prop_oneof![
        8 => prop::sample::select(vec![1_u16, 7, 24, 96, 480, 959, 960, 1920, 32767])
            .prop_map(Division::Quarter),
        1 => (prop::sample::select(vec![24_u8, 25, 29, 30]), prop::sample::select(vec![1_u8, 40, 80]))
            .prop_map(|(frames_per_s, ticks)| Division::Frame { frames_per_s, ticks }),
    ]
}

/// Few keys and channels, so that notes overlap and strike again.
fn step() -> impl Strategy<Value = Step> {
    let wait = prop_oneof![4 => Just(0_u64), 4 => 0..4_u64, 1 => 0..48_u64];
    let (channel, key, value) = (0..3_u8, 58..66_u8, 0..128_u8);
    let bytes = (0..100_u8, channel, key, value).prop_map(|(kind, channel, key, value)| {
        let loud = value.max(1);
        match kind {
            0..=29 => vec![0x90 | channel, key, loud],
            30..=44 => vec![0x80 | channel, key, value],
            45..=51 => vec![0x90 | channel, key, 0],
            52..=71 => vec![0xB0 | channel, 1, value],
            72..=74 => vec![0xB0 | channel, 64, value],
            75 => vec![0xB0 | channel, 11, value],
            76..=77 => vec![0xB0 | channel, value, key],
            78..=80 => vec![0xE0 | channel, key, value],
            81..=82 => vec![0xC0 | channel, value],
            83..=84 => vec![0xD0 | channel, value],
            85 => vec![0xA0 | channel, key, value],
            86..=88 => vec![0xF0, 3, 0x43, value, 0xF7],
            89 => vec![0xF7, 2, value, 0xF8],
            90..=92 => vec![0xFF, 0x51, 3, value % 16, value, key],
            93 => vec![0xFF, 0x51, 3, 0, 0, value % 2],
            94..=95 => vec![0xFF, 0x58, 4, value % 12, key % 8, 24, 8],
            96 => vec![0xFF, 0x59, 2, 0, 255],
            _ => vec![0xFF, 0x01, 2, value, key],
        }
    });
    (wait, bytes)
}

/// A whole file.
fn take() -> impl Strategy<Value = Vec<u8>> {
    let steps = prop::collection::vec(step(), 0..40);
    (division(), prop::collection::vec(steps, 1..4)).prop_map(|(division, tracks)| {
        let quarter_ticks = match division {
            Division::Quarter(ticks) => u64::from(ticks),
            Division::Frame { ticks, .. } => 12 * u64::from(ticks),
        };
        let track = |steps: Vec<Step>| {
            let (mut waited, mut tick) = (0, 0);
            let mut events = Vec::new();
            for (wait, bytes) in steps {
                waited += wait;
                tick = waited * quarter_ticks / 24;
                events.push(TrackEvent { tick, bytes: bytes.as_slice().into() });
            }
            Track { events, end_tick: tick }
        };
        file(division, tracks.into_iter().map(track).collect())
    })
}

/// Damage to a file: bytes changed, and perhaps an end cut off.
fn damage() -> impl Strategy<Value = (Vec<(prop::sample::Index, u8)>, Option<prop::sample::Index>)>
{
    let flips = prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..4);
    (flips, prop::option::weighted(0.2, any::<prop::sample::Index>()))
}

#[test]
fn ten_thousand_takes_give_a_result_that_keeps_its_promises_or_an_error() {
    let plain = settings("erhu", "generic");
    let mut forced = settings("violin", "perform");
    forced.tracks = vec![1];
    let config = Config { cases: 10_000, failure_persistence: None, ..Config::default() };
    let (mut shaped_count, mut refused_count, mut lanes_count) = (0, 0, 0);
    let strategy = (take(), damage(), any::<bool>());
    let mut runner = TestRunner::new_with_rng(
        config,
        proptest::test_runner::TestRng::deterministic_rng(Default::default()),
    );
    let counts = std::cell::RefCell::new((&mut shaped_count, &mut refused_count, &mut lanes_count));
    runner
        .run(&strategy, |(mut bytes, (flips, cut), is_forced)| {
            for (place, byte) in flips {
                let place = place.index(bytes.len());
                bytes[place] = byte;
            }
            if let Some(cut) = cut {
                bytes.truncate(cut.index(bytes.len()));
            }
            let settings = if is_forced { &forced } else { &plain };
            match shape_bytes(&bytes, settings) {
                Ok(shaped) => {
                    *counts.borrow_mut().0 += 1;
                    promises(&bytes, &shaped.bytes, settings).map_err(TestCaseError::fail)?;
                }
                Err(Error::Lanes { .. }) => {
                    *counts.borrow_mut().2 += 1;
                    over_lanes(&bytes, settings).map_err(TestCaseError::fail)?;
                }
                Err(error) => {
                    *counts.borrow_mut().1 += 1;
                    prop_assert!(!error.to_string().is_empty());
                }
            }
            Ok(())
        })
        .unwrap();
    // Neither side may run dry, or the test shows nothing.
    assert!(shaped_count > 2_000, "{shaped_count} shaped");
    assert!(refused_count > 1_000, "{refused_count} refused");
    assert!(lanes_count > 20, "{lanes_count} with lanes");
}

/// Lanes that are replaced or kept: either way peeling gives the take back.
fn over_lanes(original: &[u8], settings: &Settings) -> Result<(), String> {
    let take = read(original).map_err(|error| error.to_string())?;
    for rule in [LaneRule::Replace, LaneRule::Keep] {
        // It may be refused for another reason.
        let Ok(shaped) = shape_over_lanes(original, settings, rule) else { continue };
        let shaped = read(&shaped.bytes).map_err(|error| error.to_string())?;
        let peeled = peel(shaped).map_err(|error| error.to_string())?;
        if !peeled.leftovers.is_empty() || peeled.file != take {
            return Err(format!("{rule:?}: peeling leaves {:?}", peeled.leftovers));
        }
    }
    Ok(())
}

#[test]
fn bars_of_odd_takes_leave_everything_outside_as_it_was() {
    let config = Config { cases: 1_000, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(
        config,
        proptest::test_runner::TestRng::deterministic_rng(Default::default()),
    );
    let mut settings = settings("erhu", "perform");
    settings.tracks = vec![1];
    runner
        .run(&(take(), 1..4_u64, 0..3_u64), |(bytes, first, more)| {
            let mut settings = settings.clone();
            settings.bars = Some(Bars { first, last: Some(first + more) });
            let Ok(shaped) = shape_bytes(&bytes, &settings) else { return Ok(()) };
            outside(&bytes, &shaped.bytes, &settings.bars.unwrap()).map_err(TestCaseError::fail)
        })
        .unwrap();
}

/// Everything outside the bars is as it was, and peeling gives the take back.
fn outside(original: &[u8], shaped: &[u8], bars: &Bars) -> Result<(), String> {
    let (original, shaped) = (read(original).unwrap(), read(shaped).unwrap());
    let factor = original.division.factor();
    // The bars are those of the take, which may end before its shape does.
    let mut timed = shaped.clone();
    for (track, take) in timed.tracks.iter_mut().zip(&original.tracks) {
        track.end_tick = take.end_tick * factor;
    }
    let region = polso::offline::take::Region::of(&timed, MetreMap::of(&timed).as_ref(), *bars)
        .map_err(|it| it.to_string())?;
    for (before, after) in original.tracks.iter().zip(&shaped.tracks) {
        let before = before.events.iter().map(|event| (event.tick * factor, &event.bytes));
        let after = after.events.iter().filter(|event| !super::room::is_ours(event));
        let after = after.map(|event| (event.tick, &event.bytes));
        let is_outside = |event: &(u64, &polso::offline::midi::Bytes)| !region.holds(event.0);
        let before: Vec<_> = before.filter(is_outside).collect();
        let after: Vec<_> = after.filter(is_outside).collect();
        if before != after {
            return Err(format!("outside {bars}: {before:?} became {after:?}"));
        }
    }
    let peeled = peel(shaped).map_err(|error| error.to_string())?;
    (peeled.file == original).then_some(()).ok_or_else(|| "peeling gives another take".into())
}
