//! When an event happens in the score, so that files of different resolution can be compared.

use crate::offline::Error;
use crate::offline::midi::{Division, File, TempoMap};

/// A moment of the score, in parts that divide the ticks of both files evenly.
pub type ScoreTime = u128;

/// The score of two files by one measure.
pub struct Timeline {
    /// Parts of a tick, in the first file and in the second.
    parts: [u64; 2],
    clock: TempoMap,
}

impl Timeline {
    /// The timeline of these files; milliseconds go by the first file's tempo.
    pub fn of(first: &File, second: &File) -> Result<Timeline, Error> {
        let ticks = match (first.division, second.division) {
            (Division::Quarter(one), Division::Quarter(other)) => [one.into(), other.into()],
            (
                Division::Frame { frames_per_s: fps, ticks: one },
                Division::Frame { frames_per_s, ticks: other },
            ) if fps == frames_per_s => [u64::from(one), u64::from(other)],
            (one, other) => {
                return Err(Error::Clocks { first: one.to_string(), second: other.to_string() });
            }
        };
        let [one, other] = ticks;
        let common = one / greatest_common_divisor(one, other) * other;
        Ok(Timeline { parts: [common / one, common / other], clock: TempoMap::of(first) })
    }

    /// The moment of a tick of file `side`, 0 or 1.
    pub fn time(&self, tick: u64, side: usize) -> ScoreTime {
        ScoreTime::from(tick) * ScoreTime::from(self.parts[side])
    }

    /// The first file's tick at or before a moment.
    pub fn first_tick(&self, time: ScoreTime) -> u64 {
        u64::try_from(time / ScoreTime::from(self.parts[0])).unwrap_or(u64::MAX)
    }

    /// Milliseconds from the start of the first file.
    pub fn ms(&self, time: ScoreTime) -> f64 {
        let tick = self.first_tick(time);
        let rest = (time % ScoreTime::from(self.parts[0])) as f64 / self.parts[0] as f64;
        let (here_s, next_s) = (self.clock.seconds_at(tick), self.clock.seconds_at(tick + 1));
        1000.0 * (here_s + rest * (next_s - here_s))
    }
}

fn greatest_common_divisor(one: u64, other: u64) -> u64 {
    if other == 0 { one } else { greatest_common_divisor(other, one % other) }
}
