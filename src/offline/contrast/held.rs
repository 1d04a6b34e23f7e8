//! Levels that the receiver holds: how far apart two files leave it at every moment.

use std::collections::VecDeque;

use super::place::Place;
use super::stream::{Item, Kind, Pair};
use super::{Difference, Sheet};

/// Compares one stream of held values.
pub fn compare(sheet: &Sheet<'_>, events: &Pair, differences: &mut Vec<Difference>) {
    let [mut one, mut other] = [Line::of(sheet, &events[0]), Line::of(sheet, &events[1])];
    let (unit, tolerance) = match sheet.key.kind {
        Kind::Bend => ("cents", sheet.within.cents),
        Kind::Tempo => ("ms", sheet.within.ms),
        _ => ("steps", sheet.within.steps),
    };
    let is_strict = tolerance == 0.0 && sheet.within.ms == 0.0;
    let mut places: Vec<Place> = events.iter().flatten().map(|item| item.place).collect();
    places.sort_unstable();
    places.dedup();
    let mut places = &places[..];
    while let Some(&start) = places.first() {
        let mut row = sheet.row(start, sheet.key.kind.to_string());
        row.unit = Some(unit);
        let count = places.partition_point(|place| sheet.position(*place).0 <= row.bar);
        let (inside, later) = places.split_at(count);
        places = later;
        let mut is_unknown = false;
        let mut beat = None;
        for &place in inside {
            let counted = count_at(&mut row, events, place);
            let here = sheet.position(place).1;
            match one.apart(&mut other, place, sheet) {
                Some(size) => row.stretch(size, here),
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

/// Counts the messages at one place; true if they are not the same.
fn count_at(row: &mut Difference, events: &Pair, place: Place) -> bool {
    let at = |side: usize| -> Vec<&Item> {
        let items = &events[side];
        let start = items.partition_point(|item| item.place < place);
        items[start..].iter().take_while(|item| item.place == place).collect()
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

/// A stream as a line of steps in time.
struct Line {
    places: Vec<Place>,
    ms: Vec<f64>,
    values: Vec<f64>,
    near: Near,
}

/// The values that a line holds around a moment which only moves forwards.
#[derive(Default)]
struct Near {
    /// The first value that is near, and the first that is not yet.
    start: usize,
    end: usize,
    /// Of the near ones, those that are lower than all behind them; the first is the lowest.
    low: VecDeque<usize>,
    /// The same for the highest.
    high: VecDeque<usize>,
}

impl Near {
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

impl Line {
    fn of(sheet: &Sheet<'_>, items: &[Item]) -> Line {
        let (places, ms, values) = (Vec::new(), Vec::new(), Vec::new());
        let mut line = Line { places, ms, values, near: Near::default() };
        for item in items {
            if line.places.last() == Some(&item.place) {
                line.values.pop();
            } else {
                line.places.push(item.place);
                // Without a tolerance nobody asks for the time.
                let is_asked = sheet.within.ms > 0.0;
                line.ms.push(if is_asked { sheet.score.ms(item.place) } else { 0.0 });
            }
            line.values.push(item.value);
        }
        line
    }

    /// The value at a place, if there has been one.
    fn at(&self, place: Place) -> Option<f64> {
        let after = self.places.partition_point(|it| *it <= place);
        after.checked_sub(1).map(|at| self.values[at])
    }

    /// How far the two lines are apart at a place, each allowed to come a little earlier or later;
    /// `None` if only one of them has a value. Places are asked for in order.
    fn apart(&mut self, other: &mut Line, place: Place, sheet: &Sheet<'_>) -> Option<f64> {
        let ms = sheet.within.ms;
        if ms == 0.0 {
            return match (self.at(place), other.at(place)) {
                (Some(one), Some(other)) => Some((one - other).abs()),
                (None, None) => Some(0.0),
                _ => None,
            };
        }
        let now_ms = sheet.score.ms(place);
        let forth = other.reach(self.at(place), now_ms, ms);
        let back = self.reach(other.at(place), now_ms, ms);
        forth.zip(back).map(|(forth, back)| forth.max(back))
    }

    /// How far `value` lies from all that this line holds within `ms` of a moment.
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
        fn a_level_is_as_far_from_a_line_as_from_each_of_its_near_values(
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
            let near = Near::default();
            let mut line = Line { places: Vec::new(), ms: ms.clone(), values: values.clone(), near };
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
                prop_assert_eq!(line.reach(value, now_ms, near_ms), expected);
            }
        }
    }
}
