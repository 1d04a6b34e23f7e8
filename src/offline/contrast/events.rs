//! Events that stand for themselves: programs, texts, signatures, system exclusive messages.

use std::collections::BTreeMap;

use super::difference::{BarDifference, StreamContext};
use super::pairing::pair;
use super::streams::{StreamEvent, StreamPair};
use super::timeline::ScoreTime;

/// Compares one stream event by event: the same bytes at the same moment, or within the time that
/// is allowed.
pub fn compare(
    stream: &StreamContext<'_>,
    events: &StreamPair,
    differences: &mut Vec<BarDifference>,
) {
    let [one, other] = events.each_ref().map(|side| {
        side.iter().map(|event| (event.time, event.bytes)).collect::<Vec<(ScoreTime, &[u8])>>()
    });
    let partners = pair(stream, &one, &other);
    let mut rows: BTreeMap<Option<u64>, BarDifference> = BTreeMap::new();
    let mut is_found = vec![false; events[1].len()];
    for (event, partner) in events[0].iter().zip(&partners) {
        let row = row_at(stream, &mut rows, event);
        row.first_count += 1;
        match partner {
            Some(place) => is_found[*place] = true,
            None => mark(stream, row, event, |row| &mut row.missing),
        }
    }
    for (event, is_found) in events[1].iter().zip(is_found) {
        let row = row_at(stream, &mut rows, event);
        row.second_count += 1;
        if !is_found {
            mark(stream, row, event, |row| &mut row.added);
        }
    }
    differences.extend(rows.into_values().filter(|row| row.missing + row.added > 0));
}

/// Counts a difference; the first one of a bar says the beat.
fn mark(
    stream: &StreamContext<'_>,
    row: &mut BarDifference,
    event: &StreamEvent,
    count: impl Fn(&mut BarDifference) -> &mut usize,
) {
    if row.missing + row.added == 0 {
        row.beat = stream.position(event.time).1;
    }
    *count(row) += 1;
}

/// The row of an event's bar.
fn row_at<'a>(
    stream: &StreamContext<'_>,
    rows: &'a mut BTreeMap<Option<u64>, BarDifference>,
    event: &StreamEvent,
) -> &'a mut BarDifference {
    rows.entry(stream.position(event.time).0)
        .or_insert_with(|| stream.row(event.time, stream.key.kind.to_string()))
}
