//! What differs in one bar of one output, and where the differences of a stream are written down.

use serde::Serialize;

use super::streams::StreamKey;
use super::timeline::{ScoreTime, Timeline};
use super::tolerance::Tolerance;
use crate::offline::midi::MetreMap;

/// What differs in one bar of one output.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BarDifference {
    /// The bar, from 1; `None` where ticks are film frames.
    pub bar: Option<u64>,
    /// The beat of the largest or else of the first difference, from 1.
    pub beat: Option<u64>,
    /// The track, from 1; `None` if the files' tracks could not be paired.
    pub track: Option<usize>,
    /// The channel, from 1; `None` for what belongs to no channel.
    pub channel: Option<u8>,
    /// What it is: `notes`, `velocities`, `note ends`, `cc 11`, `tempo` and so on.
    pub output: String,
    /// How many there are in the first file.
    pub first_count: usize,
    /// How many there are in the second.
    pub second_count: usize,
    /// In the first file and not in the second.
    pub missing: usize,
    /// In the second file and not in the first.
    pub added: usize,
    /// In both, at one moment, with another value.
    pub changed: usize,
    /// The largest difference, in `unit`; `None` where there is nothing to measure.
    pub largest: Option<f64>,
    /// `steps`, `cents` or `ms`.
    pub unit: Option<&'static str>,
}

impl BarDifference {
    /// Remembers a difference, and where, if it is the largest so far.
    pub(super) fn keep_largest(&mut self, size: f64, beat: Option<u64>) {
        if size > 0.0 && self.largest.is_none_or(|largest| size > largest) {
            (self.largest, self.beat) = (Some(size), beat);
        }
    }
}

/// One stream, and all that its differences need to be written down.
pub(super) struct StreamContext<'a> {
    /// Whose it is.
    pub key: &'a StreamKey,
    /// The score of both files.
    pub timeline: &'a Timeline,
    /// The first file's bars.
    pub meter: Option<&'a MetreMap>,
    /// What is not told.
    pub within: &'a Tolerance,
}

impl StreamContext<'_> {
    /// Bar and beat of a moment.
    pub fn position(&self, time: ScoreTime) -> (Option<u64>, Option<u64>) {
        let tick = self.timeline.first_tick(time);
        self.meter.map(|meter| meter.position(tick)).unzip()
    }

    /// A row with nothing in it yet.
    pub fn row(&self, time: ScoreTime, output: String) -> BarDifference {
        let (bar, beat) = self.position(time);
        BarDifference {
            bar,
            beat,
            track: self.key.track.map(|track| track + 1),
            channel: self.key.channel.map(|channel| channel + 1),
            output,
            first_count: 0,
            second_count: 0,
            missing: 0,
            added: 0,
            changed: 0,
            largest: None,
            unit: None,
        }
    }
}
