//! Which bar and beat a tick falls in, counted from 1 as players count.

use super::file::{Division, File};

/// The meta event that sets a time signature.
pub const TIME_SIGNATURE: u8 = 0x58;
/// A bar has 1..=255 beats of a whole note divided by 2^0..=2^7.
const BEAT_POWER_MAX: u8 = 7;

#[derive(Clone, Copy, Debug, PartialEq)]
struct MetreChange {
    tick: u64,
    /// Bars before it.
    bars_before: u64,
    /// Ticks of a bar, times `parts`.
    bar_ticks_parts: u64,
    /// Ticks of a beat, times `parts`.
    beat_ticks_parts: u64,
    /// The beat's note value: 4 is a quarter.
    parts: u64,
    /// A time signature says so; else it is the 4/4 of a file without.
    is_stated: bool,
}

/// The bars of a file. A time signature always begins a bar; until the first it is 4/4.
#[derive(Clone, Debug, PartialEq)]
pub struct MetreMap {
    changes: Vec<MetreChange>,
}

impl MetreMap {
    /// The bars of a file; `None` where ticks are film frames and there are none.
    /// Time signatures without beats, or finer than 128ths, are passed over.
    pub fn of(file: &File) -> Option<MetreMap> {
        let Division::Quarter(ticks_per_quarter) = file.division else { return None };
        let change = |tick, bars_before, beats: u8, power: u8, is_stated| {
            let beat_ticks_parts = 4 * u64::from(ticks_per_quarter);
            MetreChange {
                tick,
                bars_before,
                bar_ticks_parts: u64::from(beats) * beat_ticks_parts,
                beat_ticks_parts,
                parts: 1 << power,
                is_stated,
            }
        };
        let mut signatures: Vec<(u64, u8, u8)> = file
            .tracks
            .iter()
            .flat_map(|track| &track.events)
            .filter_map(|event| match event.meta(TIME_SIGNATURE)? {
                [beats @ 1..=255, power @ 0..=BEAT_POWER_MAX, ..] => {
                    Some((event.tick, *beats, *power))
                }
                _ => None,
            })
            .collect();
        signatures.sort_by_key(|(tick, ..)| *tick);
        let mut changes = vec![change(0, 0, 4, 2, false)];
        for (tick, beats, power) in signatures {
            let last = changes[changes.len() - 1];
            let whole_bars = ((tick - last.tick) * last.parts).div_ceil(last.bar_ticks_parts);
            if last.tick == tick {
                changes.pop();
            }
            changes.push(change(tick, last.bars_before + whole_bars, beats, power, true));
        }
        Some(MetreMap { changes })
    }

    /// Every metre in order: its first bar from 1, beats of a bar, the beat's note value, and
    /// whether the file says it.
    pub fn metres(&self) -> impl Iterator<Item = (u64, u64, u64, bool)> + '_ {
        self.changes.iter().map(|change| {
            let beats = change.bar_ticks_parts / change.beat_ticks_parts;
            (change.bars_before + 1, beats, change.parts, change.is_stated)
        })
    }

    /// The tick at which bar `bar` (1 and up) begins.
    pub fn bar_start(&self, bar: u64) -> u64 {
        let before = bar.max(1) - 1;
        let after = self.changes.partition_point(|change| change.bars_before <= before);
        let change = &self.changes[after.max(1) - 1];
        let ticks = u128::from(before - change.bars_before) * u128::from(change.bar_ticks_parts);
        let tick = u128::from(change.tick) + ticks.div_ceil(u128::from(change.parts));
        let tick = u64::try_from(tick).unwrap_or(u64::MAX);
        // A bar that a new time signature cuts short ends there.
        self.changes.get(after).map_or(tick, |next| tick.min(next.tick))
    }

    /// Ticks of a beat at this tick.
    pub fn beat_ticks(&self, tick: u64) -> f64 {
        let after = self.changes.partition_point(|change| change.tick <= tick);
        let change = &self.changes[after.max(1) - 1];
        change.beat_ticks_parts as f64 / change.parts as f64
    }

    /// Bar and beat of a tick, both from 1.
    pub fn position(&self, tick: u64) -> (u64, u64) {
        let after = self.changes.partition_point(|change| change.tick <= tick);
        let change = &self.changes[after.max(1) - 1];
        let parts = (tick - change.tick) * change.parts;
        let bar = change.bars_before + parts / change.bar_ticks_parts + 1;
        (bar, parts % change.bar_ticks_parts / change.beat_ticks_parts + 1)
    }
}
