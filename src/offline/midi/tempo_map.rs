//! When a tick sounds: the tempo of the whole file, exact to the microsecond's fraction.

use super::file::{Division, File};

/// Microseconds of a quarter note before any tempo is set: 120 a minute (SMF 1.0).
pub const DEFAULT_QUARTER_US: u64 = 500_000;
/// The meta event that sets a tempo.
pub const TEMPO: u8 = 0x51;

/// From this tick on a tick lasts `units`.
#[derive(Clone, Copy, Debug, PartialEq)]
struct TempoChange {
    tick: u64,
    units: u64,
    /// Units since the start of the file.
    elapsed: u128,
}

/// Ticks to seconds and back. Time is counted in whole units that divide every tick evenly.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    changes: Vec<TempoChange>,
    units_per_s: u64,
    /// Ticks of a quarter note; where there is no tempo, of half a second (120 a minute).
    ticks_per_quarter: f64,
    /// Tempos that were passed over because they would stop time.
    pub zero_tempo_count: usize,
}

impl TempoMap {
    /// The tempos of a file. Every track's tempos count. A tempo of 0 is passed over.
    pub fn of(file: &File) -> TempoMap {
        let (units, units_per_s, ticks_per_quarter) = match file.division {
            Division::Quarter(ticks) => {
                (DEFAULT_QUARTER_US, 1_000_000 * u64::from(ticks), f64::from(ticks))
            }
            Division::Frame { frames_per_s: 29, ticks } => {
                (1001, 30_000 * u64::from(ticks), f64::from(ticks) * 15_000.0 / 1001.0)
            }
            Division::Frame { frames_per_s, ticks } => {
                let ticks_per_s = u64::from(frames_per_s) * u64::from(ticks);
                (1, ticks_per_s, ticks_per_s as f64 / 2.0)
            }
        };
        let first = TempoChange { tick: 0, units, elapsed: 0 };
        let mut map =
            TempoMap { changes: vec![first], units_per_s, ticks_per_quarter, zero_tempo_count: 0 };
        if matches!(file.division, Division::Quarter(_)) {
            map.take_tempos(file);
        }
        map
    }

    fn take_tempos(&mut self, file: &File) {
        let mut tempos: Vec<(u64, u64)> = Vec::new();
        for event in file.tracks.iter().flat_map(|track| &track.events) {
            match event.meta(TEMPO) {
                Some([0, 0, 0, ..]) => self.zero_tempo_count += 1,
                Some([high, middle, low, ..]) => {
                    tempos.push((event.tick, u32::from_be_bytes([0, *high, *middle, *low]).into()))
                }
                _ => {}
            }
        }
        tempos.sort_by_key(|(tick, _)| *tick); // stable: of two at one tick the later one holds
        for (tick, units) in tempos {
            let elapsed = self.elapsed(tick);
            match self.changes.last_mut() {
                Some(last) if last.tick == tick => last.units = units,
                _ => self.changes.push(TempoChange { tick, units, elapsed }),
            }
        }
    }

    fn change_at(&self, tick: u64) -> &TempoChange {
        let after = self.changes.partition_point(|change| change.tick <= tick);
        &self.changes[after.max(1) - 1]
    }

    fn elapsed(&self, tick: u64) -> u128 {
        let change = self.change_at(tick);
        change.elapsed + u128::from(tick - change.tick) * u128::from(change.units)
    }

    /// Seconds from the start of the file to this tick.
    pub fn seconds_at(&self, tick: u64) -> f64 {
        self.elapsed(tick) as f64 / self.units_per_s as f64
    }

    /// The frame nearest to this tick; half a frame counts up.
    pub fn frame_at(&self, tick: u64, rate_hz: u32) -> u64 {
        let doubled = 2 * self.elapsed(tick) * u128::from(rate_hz);
        let unit = u128::from(self.units_per_s);
        u64::try_from((doubled + unit) / (2 * unit)).unwrap_or(u64::MAX)
    }

    /// The tick at this time, with its fraction.
    pub fn tick_at(&self, seconds: f64) -> f64 {
        let units = seconds.max(0.0) * self.units_per_s as f64;
        let after = self.changes.partition_point(|change| change.elapsed as f64 <= units);
        let change = &self.changes[after.max(1) - 1];
        change.tick as f64 + (units - change.elapsed as f64) / change.units as f64
    }

    /// The tick nearest to this frame; half a tick counts up. In whole numbers, so that a bar comes
    /// out alike wherever it stands.
    pub fn tick_near(&self, frame: u64, rate_hz: u32) -> u64 {
        let rate = u128::from(rate_hz);
        let units = u128::from(frame) * u128::from(self.units_per_s);
        let after = self.changes.partition_point(|change| change.elapsed * rate <= units);
        let change = &self.changes[after.max(1) - 1];
        let tick_units = u128::from(change.units) * rate;
        let ticks = (2 * (units - change.elapsed * rate) + tick_units) / (2 * tick_units);
        change.tick.saturating_add(u64::try_from(ticks).unwrap_or(u64::MAX))
    }

    /// Where the tempo changes, in order; the first is the start of the file.
    pub fn tempo_ticks(&self) -> impl Iterator<Item = u64> + '_ {
        self.changes.iter().map(|change| change.tick)
    }

    /// How many there are.
    pub fn tempo_count(&self) -> usize {
        self.changes.len()
    }

    /// Ticks of a quarter note; where there is no tempo, of half a second.
    pub fn ticks_per_quarter(&self) -> f64 {
        self.ticks_per_quarter
    }

    /// Quarter notes since the start of the file.
    pub fn beat_at(&self, tick: u64) -> f64 {
        tick as f64 / self.ticks_per_quarter
    }

    /// Quarter notes a minute at this tick.
    pub fn tempo_bpm_at(&self, tick: u64) -> f64 {
        let tick_s = self.change_at(tick).units as f64 / self.units_per_s as f64;
        60.0 / (tick_s * self.ticks_per_quarter)
    }
}
