//! Events that stand for themselves: programs, texts, signatures, system exclusive messages.

use super::stream::{Item, Pair};
use super::{Difference, Sheet};

/// Compares one stream event by event: the same bytes at the same place, or within the time that
/// is allowed.
pub fn compare(sheet: &Sheet<'_>, events: &Pair, differences: &mut Vec<Difference>) {
    let partners = pair(sheet, &events[0], &events[1], |one, other| one.bytes == other.bytes);
    let mut rows: Vec<Difference> = Vec::new();
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
    differences.extend(rows.into_iter().filter(|row| row.missing + row.added > 0));
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
pub fn row_at<'a>(
    sheet: &Sheet<'_>,
    rows: &'a mut Vec<Difference>,
    item: &Item,
) -> &'a mut Difference {
    let bar = sheet.position(item.place).0;
    // Items come in order twice over, so the bar is near the end or near the place of before.
    let place = rows.binary_search_by_key(&bar, |row| row.bar).unwrap_or_else(|place| {
        rows.insert(place, sheet.row(item.place, sheet.key.kind.to_string()));
        place
    });
    &mut rows[place]
}

/// The partner of each of `one` among `other`: the first one left that fits, at the same place or
/// within the time that is allowed.
pub fn pair<T: AsRef<Item>>(
    sheet: &Sheet<'_>,
    one: &[T],
    other: &[T],
    fits: impl Fn(&T, &T) -> bool,
) -> Vec<Option<usize>> {
    let ms = sheet.within.ms;
    let time = |item: &T| sheet.score.ms(item.as_ref().place);
    let is_early = |own: &T, candidate: &T| match ms > 0.0 {
        true => time(candidate) < time(own) - ms,
        false => candidate.as_ref().place < own.as_ref().place,
    };
    let is_late = |own: &T, candidate: &T| match ms > 0.0 {
        true => time(candidate) > time(own) + ms,
        false => candidate.as_ref().place > own.as_ref().place,
    };
    let mut is_taken = vec![false; other.len()];
    let mut start = 0;
    let partner = |own: &T| {
        while other.get(start).is_some_and(|candidate| is_early(own, candidate)) {
            start += 1;
        }
        let near = other[start..].iter().take_while(|candidate| !is_late(own, candidate));
        let found = near
            .enumerate()
            .map(|(offset, candidate)| (start + offset, candidate))
            .find(|(place, candidate)| !is_taken[*place] && fits(own, candidate));
        let (place, _) = found?;
        is_taken[place] = true;
        Some(place)
    };
    one.iter().map(partner).collect()
}

impl AsRef<Item> for Item {
    fn as_ref(&self) -> &Item {
        self
    }
}
