//! Where an event stands in the score, so that files of different resolution can be compared.

use crate::offline::Error;
use crate::offline::midi::{Division, File, TempoMap};

/// A place in the score, in parts that divide the ticks of both files evenly.
pub type Place = u128;

/// The common ruler of two files.
pub struct Score {
    /// Parts of a tick, in the first file and in the second.
    parts: [u64; 2],
    clock: TempoMap,
}

impl Score {
    /// The ruler of these files; milliseconds go by the first file's tempo.
    pub fn of(first: &File, second: &File) -> Result<Score, Error> {
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
        Ok(Score { parts: [common / one, common / other], clock: TempoMap::of(first) })
    }

    /// The place of a tick of file `side`, 0 or 1.
    pub fn place(&self, tick: u64, side: usize) -> Place {
        Place::from(tick) * Place::from(self.parts[side])
    }

    /// The first file's tick at or before a place.
    pub fn first_tick(&self, place: Place) -> u64 {
        u64::try_from(place / Place::from(self.parts[0])).unwrap_or(u64::MAX)
    }

    /// Milliseconds from the start of the first file.
    pub fn ms(&self, place: Place) -> f64 {
        let tick = self.first_tick(place);
        let rest = (place % Place::from(self.parts[0])) as f64 / self.parts[0] as f64;
        let (here_s, next_s) = (self.clock.seconds_at(tick), self.clock.seconds_at(tick + 1));
        1000.0 * (here_s + rest * (next_s - here_s))
    }
}

fn greatest_common_divisor(one: u64, other: u64) -> u64 {
    if other == 0 { one } else { greatest_common_divisor(other, one % other) }
}
