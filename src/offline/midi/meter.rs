//! Which bar and beat a tick falls in, counted from 1 as players count.

use std::fmt;
use std::str::FromStr;

use super::{Division, File};
use crate::offline::Error;

/// The meta event that sets a time signature.
const TIME_SIGNATURE: u8 = 0x58;
/// A bar has 1..=255 beats of a whole note divided by 2^0..=2^7.
const BEAT_POWER_MAX: u8 = 7;

#[derive(Clone, Copy, Debug, PartialEq)]
struct Section {
    tick: u64,
    /// Bars before it.
    bars_before: u64,
    /// Ticks of a bar, times `parts`.
    bar_ticks_parts: u64,
    /// Ticks of a beat, times `parts`.
    beat_ticks_parts: u64,
    /// The beat's note value: 4 is a quarter.
    parts: u64,
}

/// The bars of a file. A time signature always begins a bar; until the first it is 4/4.
#[derive(Clone, Debug, PartialEq)]
pub struct Meter {
    sections: Vec<Section>,
}

impl Meter {
    /// The bars of a file; `None` where ticks are film frames and there are none.
    /// Time signatures without beats, or finer than 128ths, are passed over.
    pub fn of(file: &File) -> Option<Meter> {
        let Division::Quarter(ticks_per_quarter) = file.division else { return None };
        let section = |tick, bars_before, beats: u8, power: u8| {
            let beat_ticks_parts = 4 * u64::from(ticks_per_quarter);
            Section {
                tick,
                bars_before,
                bar_ticks_parts: u64::from(beats) * beat_ticks_parts,
                beat_ticks_parts,
                parts: 1 << power,
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
        let mut sections = vec![section(0, 0, 4, 2)];
        for (tick, beats, power) in signatures {
            let last = sections[sections.len() - 1];
            let whole_bars = ((tick - last.tick) * last.parts).div_ceil(last.bar_ticks_parts);
            if last.tick == tick {
                sections.pop();
            }
            sections.push(section(tick, last.bars_before + whole_bars, beats, power));
        }
        Some(Meter { sections })
    }

    /// The tick at which bar `bar` (1 and up) begins.
    pub fn bar_start(&self, bar: u64) -> u64 {
        let before = bar.max(1) - 1;
        let after = self.sections.partition_point(|section| section.bars_before <= before);
        let section = &self.sections[after.max(1) - 1];
        let ticks = u128::from(before - section.bars_before) * u128::from(section.bar_ticks_parts);
        let tick = u128::from(section.tick) + ticks.div_ceil(u128::from(section.parts));
        let tick = u64::try_from(tick).unwrap_or(u64::MAX);
        // A bar that a new time signature cuts short ends there.
        self.sections.get(after).map_or(tick, |next| tick.min(next.tick))
    }

    /// Ticks of a beat at this tick.
    pub fn beat_ticks(&self, tick: u64) -> f64 {
        let after = self.sections.partition_point(|section| section.tick <= tick);
        let section = &self.sections[after.max(1) - 1];
        section.beat_ticks_parts as f64 / section.parts as f64
    }

    /// Bar and beat of a tick, both from 1.
    pub fn position(&self, tick: u64) -> (u64, u64) {
        let after = self.sections.partition_point(|section| section.tick <= tick);
        let section = &self.sections[after.max(1) - 1];
        let parts = (tick - section.tick) * section.parts;
        let bar = section.bars_before + parts / section.bar_ticks_parts + 1;
        (bar, parts % section.bar_ticks_parts / section.beat_ticks_parts + 1)
    }
}

/// Bars from `first` to `last`, both of them too, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bars {
    /// The first bar.
    pub first: u64,
    /// The last bar; `None` is the end of the take.
    pub last: Option<u64>,
}

impl FromStr for Bars {
    type Err = Error;

    /// Reads `A..B`, `A..` or `..B`.
    fn from_str(text: &str) -> Result<Bars, Error> {
        let number = |part: &str| part.parse::<u64>().ok().filter(|bar| *bar >= 1);
        let bars = text.split_once("..").and_then(|(first, last)| {
            let first_bar = if first.is_empty() { 1 } else { number(first)? };
            let last_bar = if last.is_empty() { None } else { Some(number(last)?) };
            let is_open = first.is_empty() && last.is_empty();
            let is_turned_round = last_bar.is_some_and(|last| last < first_bar);
            (!is_open && !is_turned_round).then_some(Bars { first: first_bar, last: last_bar })
        });
        bars.ok_or_else(|| Error::Bars { given: text.to_owned() })
    }
}

impl fmt::Display for Bars {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.last {
            Some(last) => write!(f, "{}..{last}", self.first),
            None => write!(f, "{}..", self.first),
        }
    }
}
