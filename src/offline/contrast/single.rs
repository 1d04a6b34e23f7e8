//! Events that stand for themselves: programs, texts, signatures, system exclusive messages.

use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;

use super::place::Place;
use super::stream::{Item, Pair};
use super::{Difference, Sheet};

/// Compares one stream event by event: the same bytes at the same place, or within the time that
/// is allowed.
pub fn compare(sheet: &Sheet<'_>, events: &Pair, differences: &mut Vec<Difference>) {
    let [one, other] = events.each_ref().map(|side| {
        side.iter().map(|item| (item.place, item.bytes)).collect::<Vec<(Place, &[u8])>>()
    });
    let partners = pair(sheet, &one, &other);
    let mut rows: BTreeMap<Option<u64>, Difference> = BTreeMap::new();
    let mut is_found = vec![false; events[1].len()];
    for (item, partner) in events[0].iter().zip(&partners) {
        let row = row_at(sheet, &mut rows, item);
        row.first_count += 1;
        match partner {
            Some(place) => is_found[*place] = true,
            None => mark(sheet, row, item, |row| &mut row.missing),
        }
    }
    for (item, is_found) in events[1].iter().zip(is_found) {
        let row = row_at(sheet, &mut rows, item);
        row.second_count += 1;
        if !is_found {
            mark(sheet, row, item, |row| &mut row.added);
        }
    }
    differences.extend(rows.into_values().filter(|row| row.missing + row.added > 0));
}

/// Counts a difference; the first one of a bar says the beat.
fn mark(
    sheet: &Sheet<'_>,
    row: &mut Difference,
    item: &Item,
    count: impl Fn(&mut Difference) -> &mut usize,
) {
    if row.missing + row.added == 0 {
        row.beat = sheet.position(item.place).1;
    }
    *count(row) += 1;
}

/// The row of an item's bar.
fn row_at<'a>(
    sheet: &Sheet<'_>,
    rows: &'a mut BTreeMap<Option<u64>, Difference>,
    item: &Item,
) -> &'a mut Difference {
    rows.entry(sheet.position(item.place).0)
        .or_insert_with(|| sheet.row(item.place, sheet.key.kind.to_string()))
}

/// Events that wait for a partner: the first of each kind, and after each the next of its kind.
struct Waiting<K> {
    first: HashMap<K, usize>,
    next: Vec<Option<usize>>,
}

impl<K: Copy + Eq + Hash> Waiting<K> {
    fn new(kinds: impl DoubleEndedIterator<Item = K> + ExactSizeIterator) -> Waiting<K> {
        let mut waiting = Waiting { first: HashMap::new(), next: vec![None; kinds.len()] };
        for (place, kind) in kinds.enumerate().rev() {
            waiting.next[place] = waiting.first.insert(kind, place);
        }
        waiting
    }

    /// The first of a kind from a place on; what stands before it waits no longer.
    fn from(&mut self, kind: K, start: usize) -> Option<usize> {
        let mut first = self.first.get(&kind).copied();
        while let Some(place) = first.filter(|place| *place < start) {
            first = self.next[place];
        }
        self.keep(kind, first)
    }

    /// Takes away the first of a kind.
    fn take(&mut self, kind: K, place: usize) {
        self.keep(kind, self.next[place]);
    }

    fn keep(&mut self, kind: K, first: Option<usize>) -> Option<usize> {
        match first {
            Some(place) => self.first.insert(kind, place),
            None => self.first.remove(&kind),
        };
        first
    }
}

/// The partner of each event of one file among those of the other: the first one left of its kind,
/// at the same place or within the time that is allowed. Events are given by place, in order, and
/// kind.
pub fn pair<K: Copy + Eq + Hash>(
    sheet: &Sheet<'_>,
    one: &[(Place, K)],
    other: &[(Place, K)],
) -> Vec<Option<usize>> {
    let ms = sheet.within.ms;
    let is_early = |own: Place, other: Place| match ms > 0.0 {
        true => sheet.score.ms(other) < sheet.score.ms(own) - ms,
        false => other < own,
    };
    let is_late = |own: Place, other: Place| match ms > 0.0 {
        true => sheet.score.ms(other) > sheet.score.ms(own) + ms,
        false => other > own,
    };
    let mut waiting = Waiting::new(other.iter().map(|(_, kind)| *kind));
    let mut start = 0;
    let partner = |&(own, kind): &(Place, K)| {
        while other.get(start).is_some_and(|(place, _)| is_early(own, *place)) {
            start += 1;
        }
        let place = waiting.from(kind, start)?;
        if is_late(own, other[place].0) {
            return None;
        }
        waiting.take(kind, place);
        Some(place)
    };
    one.iter().map(partner).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::Within;
    use super::super::place::Score;
    use super::super::stream::{Key, Kind};
    use super::*;
    use crate::offline::midi::{Division, File, Track};

    /// The same by looking through all of the other file for each event.
    fn naive(sheet: &Sheet<'_>, one: &[(Place, u8)], other: &[(Place, u8)]) -> Vec<Option<usize>> {
        let (ms, mut is_taken) = (sheet.within.ms, vec![false; other.len()]);
        let mut partner = |&(own, kind): &(Place, u8)| {
            let is_near = |place: Place| match ms > 0.0 {
                true => (sheet.score.ms(place) - sheet.score.ms(own)).abs() <= ms,
                false => place == own,
            };
            let fits = |place: &usize| other[*place].1 == kind && is_near(other[*place].0);
            let found = (0..other.len()).find(|place| !is_taken[*place] && fits(place))?;
            is_taken[found] = true;
            Some(found)
        };
        one.iter().map(&mut partner).collect()
    }

    proptest! {
        #[test]
        fn events_find_the_partners_that_a_search_finds(
            mut one in prop::collection::vec((0_u128..60, 0_u8..3), 0..40),
            mut other in prop::collection::vec((0_u128..60, 0_u8..3), 0..40),
            ms in prop::sample::select(vec![0.0, 2.5, 9.0, 1000.0]),
        ) {
            one.sort_by_key(|event| event.0);
            other.sort_by_key(|event| event.0);
            let file = File {
                format: 0,
                division: Division::Quarter(480),
                header_rest: Vec::new(),
                tracks: vec![Track::default()],
                foreign: Vec::new(),
                tail: Vec::new(),
            };
            let key = Key { track: None, channel: None, kind: Kind::System };
            let score = Score::of(&file, &file).unwrap();
            let within = Within { ms, ..Within::default() };
            let sheet = Sheet { key: &key, score: &score, meter: None, within: &within };
            prop_assert_eq!(pair(&sheet, &one, &other), naive(&sheet, &one, &other));
        }
    }
}
