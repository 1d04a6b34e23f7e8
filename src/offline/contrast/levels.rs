//! Levels that the receiver holds: how far apart two files leave it at every moment.

use std::collections::VecDeque;

use super::difference::{BarDifference, StreamContext};
use super::streams::{StreamEvent, StreamKind, StreamPair};
use super::timeline::ScoreTime;

/// Compares one stream of held values.
pub fn compare(
    stream: &StreamContext<'_>,
    events: &StreamPair,
    differences: &mut Vec<BarDifference>,
) {
    let [mut one, mut other] =
        [HeldLevel::of(stream, &events[0]), HeldLevel::of(stream, &events[1])];
    let (unit, tolerance) = match stream.key.kind {
        StreamKind::Bend => ("cents", stream.within.cents),
        StreamKind::Tempo => ("ms", stream.within.ms),
        _ => ("steps", stream.within.steps),
    };
    let is_strict = tolerance == 0.0 && stream.within.ms == 0.0;
    let mut times: Vec<ScoreTime> = events.iter().flatten().map(|event| event.time).collect();
    times.sort_unstable();
    times.dedup();
    let mut times = &times[..];
    while let Some(&start) = times.first() {
        let mut row = stream.row(start, stream.key.kind.to_string());
        row.unit = Some(unit);
        let count = times.partition_point(|time| stream.position(*time).0 <= row.bar);
        let (inside, later) = times.split_at(count);
        times = later;
        let mut is_unknown = false;
        let mut beat = None;
        for &time in inside {
            let counted = count_at(&mut row, events, time);
            let here = stream.position(time).1;
            match one.apart(&mut other, time, stream) {
                Some(size) => row.keep_largest(size, here),
                None => {
                    is_unknown = true;
                    beat = beat.or(here);
                }
            }
            beat = beat.or(here.filter(|_| counted));
        }
        if row.largest.is_none() {
            row.beat = beat.or(row.beat);
            row.unit = None;
        }
        let is_far = is_unknown || row.largest.is_some_and(|largest| largest > tolerance);
        let is_other = row.missing + row.added + row.changed > 0;
        if if is_strict { is_other } else { is_far } {
            differences.push(row);
        }
    }
}

/// Counts the messages of one moment; true if they are not the same.
fn count_at(row: &mut BarDifference, events: &StreamPair, time: ScoreTime) -> bool {
    let at = |side: usize| -> Vec<&StreamEvent> {
        let events = &events[side];
        let start = events.partition_point(|event| event.time < time);
        events[start..].iter().take_while(|event| event.time == time).collect()
    };
    let (mut one, mut other) = (at(0), at(1));
    row.first_count += one.len();
    row.second_count += other.len();
    // What is the same at the front and at the end is taken away.
    let same = one.iter().zip(&other).take_while(|(one, other)| one.bytes == other.bytes).count();
    one.drain(..same);
    other.drain(..same);
    while one.last().zip(other.last()).is_some_and(|(one, other)| one.bytes == other.bytes) {
        one.pop();
        other.pop();
    }
    let changed = one.len().min(other.len());
    row.changed += changed;
    row.missing += one.len() - changed;
    row.added += other.len() - changed;
    !one.is_empty() || !other.is_empty()
}

/// A stream as a level that goes in steps.
struct HeldLevel {
    times: Vec<ScoreTime>,
    ms: Vec<f64>,
    values: Vec<f64>,
    near: NearValues,
}

/// The values that a level has around a moment which only moves forwards.
#[derive(Default)]
struct NearValues {
    /// The first value that is near, and the first that is not yet.
    start: usize,
    end: usize,
    /// Of the near ones, those that are lower than all behind them; the first is the lowest.
    low: VecDeque<usize>,
    /// The same for the highest.
    high: VecDeque<usize>,
}

impl NearValues {
    /// Moves on to what `values` at the times `ms` hold from `from_ms` to `until_ms`.
    fn advance(&mut self, ms: &[f64], values: &[f64], from_ms: f64, until_ms: f64) {
        while ms.get(self.end).is_some_and(|it| *it <= until_ms) {
            let value = values[self.end];
            while self.low.back().is_some_and(|last| values[*last] >= value) {
                self.low.pop_back();
            }
            while self.high.back().is_some_and(|last| values[*last] <= value) {
                self.high.pop_back();
            }
            self.low.push_back(self.end);
            self.high.push_back(self.end);
            self.end += 1;
        }
        // What was sent before the span begins is held into it.
        while ms.get(self.start + 1).is_some_and(|next| *next <= from_ms) {
            self.start += 1;
        }
        for extremes in [&mut self.low, &mut self.high] {
            while extremes.front().is_some_and(|first| *first < self.start) {
                extremes.pop_front();
            }
        }
    }
}

impl HeldLevel {
    fn of(stream: &StreamContext<'_>, events: &[StreamEvent]) -> HeldLevel {
        let (times, ms, values) = (Vec::new(), Vec::new(), Vec::new());
        let mut level = HeldLevel { times, ms, values, near: NearValues::default() };
        for event in events {
            if level.times.last() == Some(&event.time) {
                level.values.pop();
            } else {
                level.times.push(event.time);
                // Without a tolerance nobody asks for the time.
                let is_asked = stream.within.ms > 0.0;
                level.ms.push(if is_asked { stream.timeline.ms(event.time) } else { 0.0 });
            }
            level.values.push(event.value);
        }
        level
    }

    /// The value at a moment, if there has been one.
    fn at(&self, time: ScoreTime) -> Option<f64> {
        let after = self.times.partition_point(|it| *it <= time);
        after.checked_sub(1).map(|at| self.values[at])
    }

    /// How far the two levels are apart at a moment, each allowed to come a little earlier or later;
    /// `None` if only one of them has a value. Moments are asked for in order.
    fn apart(
        &mut self,
        other: &mut HeldLevel,
        time: ScoreTime,
        stream: &StreamContext<'_>,
    ) -> Option<f64> {
        let ms = stream.within.ms;
        if ms == 0.0 {
            return match (self.at(time), other.at(time)) {
                (Some(one), Some(other)) => Some((one - other).abs()),
                (None, None) => Some(0.0),
                _ => None,
            };
        }
        let now_ms = stream.timeline.ms(time);
        let forth = other.reach(self.at(time), now_ms, ms);
        let back = self.reach(other.at(time), now_ms, ms);
        forth.zip(back).map(|(forth, back)| forth.max(back))
    }

    /// How far `value` lies from all that this one holds within `ms` of a moment.
    fn reach(&mut self, value: Option<f64>, now_ms: f64, ms: f64) -> Option<f64> {
        self.near.advance(&self.ms, &self.values, now_ms - ms, now_ms + ms);
        let is_silent_before = self.ms.first().is_none_or(|first| *first > now_ms - ms);
        let Some(value) = value else { return is_silent_before.then_some(0.0) };
        let low = self.values[*self.near.low.front()?];
        let high = self.values[*self.near.high.front()?];
        Some((low - value).max(value - high).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_level_is_as_far_from_another_as_from_each_of_its_near_values(
            steps in prop::collection::vec((0_u32..30, 0_u8..10), 0..60),
            times in prop::collection::vec(0_u32..600, 1..60),
            near_ms in 1_u32..200,
            value in prop::option::of(0_u8..10),
        ) {
            let mut now_ms = 0.0;
            let (mut ms, mut values) = (Vec::new(), Vec::new());
            for (gap_ms, value) in steps {
                now_ms += f64::from(gap_ms);
                ms.push(now_ms);
                values.push(f64::from(value));
            }
            let (near_ms, value) = (f64::from(near_ms), value.map(f64::from));
            let near = NearValues::default();
            let mut level = HeldLevel { times: Vec::new(), ms: ms.clone(), values: values.clone(), near };
            let mut times = times;
            times.sort_unstable();
            for now_ms in times.into_iter().map(f64::from) {
                // What holds when the span begins, and what comes in it.
                let first = ms.iter().rposition(|it| *it <= now_ms - near_ms);
                let last = ms.iter().filter(|it| **it <= now_ms + near_ms).count();
                let held = &values[first.unwrap_or(0)..last];
                let far = |value: f64| {
                    let low = held.iter().copied().reduce(f64::min)?;
                    let high = held.iter().copied().reduce(f64::max)?;
                    Some((low - value).max(value - high).max(0.0))
                };
                let expected = match value {
                    Some(value) => far(value),
                    None => first.is_none().then_some(0.0),
                };
                prop_assert_eq!(level.reach(value, now_ms, near_ms), expected);
            }
        }
    }
}
