//! Levels that the receiver holds: how far apart two files leave it at every moment.

use super::place::Place;
use super::stream::{Item, Kind, Pair};
use super::{Difference, Sheet};

/// Compares one stream of held values.
pub fn compare(sheet: &Sheet<'_>, events: &Pair, differences: &mut Vec<Difference>) {
    let lines = [Line::of(sheet, &events[0]), Line::of(sheet, &events[1])];
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
            match lines[0].apart(&lines[1], place, sheet.within.ms, sheet) {
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
}

impl Line {
    fn of(sheet: &Sheet<'_>, items: &[Item]) -> Line {
        let mut line = Line { places: Vec::new(), ms: Vec::new(), values: Vec::new() };
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

    /// How far the two lines are apart at a place, each allowed to come `ms` earlier or later;
    /// `None` if only one of them has a value.
    fn apart(&self, other: &Line, place: Place, ms: f64, sheet: &Sheet<'_>) -> Option<f64> {
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
    fn reach(&self, value: Option<f64>, now_ms: f64, ms: f64) -> Option<f64> {
        let start = self.ms.partition_point(|it| *it <= now_ms - ms).checked_sub(1);
        let end = self.ms.partition_point(|it| *it <= now_ms + ms);
        let Some(value) = value else { return start.is_none().then_some(0.0) };
        let held = &self.values[start.unwrap_or(0)..end];
        let low = held.iter().copied().reduce(f64::min)?;
        let high = held.iter().copied().reduce(f64::max)?;
        Some((low - value).max(value - high).max(0.0))
    }
}
