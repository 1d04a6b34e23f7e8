//! Some bars of a take as ticks: from where to where it changes.

use crate::offline::error::Error;
use crate::offline::midi::{Bars, File, MetreMap, TempoMap};

/// Ticks from `start` to before `end`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// The first tick inside.
    pub start: u64,
    /// The first tick after it; `u64::MAX` if it has no end.
    pub end: u64,
}

impl Region {
    /// The whole take.
    pub const ALL: Region = Region { start: 0, end: u64::MAX };

    /// The region of these bars of a file. `metre` is the file's own.
    ///
    /// # Errors
    /// [`Error::NoBars`] where ticks are film frames, [`Error::BarsAfterEnd`].
    pub fn of(file: &File, metre: Option<&MetreMap>, bars: Bars) -> Result<Region, Error> {
        let metre = metre.ok_or(Error::NoBars)?;
        let start = metre.bar_start(bars.first);
        let end_tick = file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
        if start > end_tick {
            let last = metre.position(end_tick).0;
            return Err(Error::BarsAfterEnd { first: bars.first, last });
        }
        let end = bars.last.map_or(u64::MAX, |last| metre.bar_start(last.saturating_add(1)));
        // What ends with the take needs no seam there.
        let end = if end > end_tick { u64::MAX } else { end };
        Ok(Region { start, end })
    }

    /// Whether a tick lies inside.
    pub fn holds(&self, tick: u64) -> bool {
        (self.start..self.end).contains(&tick)
    }

    /// How long it lasts up to `last_tick`, seconds.
    pub fn length_s(&self, clock: &TempoMap, last_tick: u64) -> f64 {
        let end = self.end.min(last_tick).max(self.start);
        clock.seconds_at(end) - clock.seconds_at(self.start)
    }
}
