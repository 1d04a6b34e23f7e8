//! Notes: which are missing or new, how hard they are struck and when they end.

use std::collections::{BTreeMap, VecDeque};

use super::difference::{BarDifference, StreamContext};
use super::pairing::pair;
use super::streams::{StreamEvent, StreamPair};
use super::timeline::ScoreTime;
use crate::engine::Message;

/// A note from its on to its off.
struct ComparedNote<'a> {
    event: &'a StreamEvent<'a>,
    key: u8,
    velocity: u8,
    /// `None` if it never ends.
    end: Option<ScoreTime>,
}

/// The three things that are told of the notes of a bar.
struct NoteRows {
    notes: BarDifference,
    velocities: BarDifference,
    ends: BarDifference,
}

/// Compares the notes of one channel.
pub fn compare(
    stream: &StreamContext<'_>,
    events: &StreamPair,
    differences: &mut Vec<BarDifference>,
) {
    let sides = [notes(&events[0]), notes(&events[1])];
    let [one, other] = sides.each_ref().map(|side| {
        side.iter().map(|note| (note.event.time, note.key)).collect::<Vec<(ScoreTime, u8)>>()
    });
    let partners = pair(stream, &one, &other);
    let mut rows: BTreeMap<Option<u64>, NoteRows> = BTreeMap::new();
    let mut is_found = vec![false; sides[1].len()];
    for (note, partner) in sides[0].iter().zip(&partners) {
        let row = rows_at(stream, &mut rows, note.event.time);
        row.count(|row| &mut row.first_count);
        let Some(place) = *partner else {
            mark(stream, &mut row.notes, note, |row| &mut row.missing);
            continue;
        };
        is_found[place] = true;
        match_up(stream, row, note, &sides[1][place]);
    }
    for (note, is_found) in sides[1].iter().zip(is_found) {
        let row = rows_at(stream, &mut rows, note.event.time);
        row.count(|row| &mut row.second_count);
        if !is_found {
            mark(stream, &mut row.notes, note, |row| &mut row.added);
        }
    }
    let all = rows.into_values().flat_map(|row| [row.notes, row.velocities, row.ends]);
    differences.extend(all.filter(|row| row.missing + row.added + row.changed > 0));
}

/// Velocity and end of a note that both files have.
fn match_up(
    stream: &StreamContext<'_>,
    rows: &mut NoteRows,
    one: &ComparedNote,
    other: &ComparedNote,
) {
    let beat = stream.position(one.event.time).1;
    let steps = f64::from(one.velocity.abs_diff(other.velocity));
    if steps > stream.within.steps {
        rows.velocities.changed += 1;
        rows.velocities.keep_largest(steps, beat);
    }
    match (one.end, other.end) {
        (Some(one), Some(other)) => {
            if one != other {
                let ms = (stream.timeline.ms(one) - stream.timeline.ms(other)).abs();
                if ms > stream.within.ms {
                    rows.ends.changed += 1;
                    rows.ends.keep_largest(ms, beat);
                }
            }
        }
        (Some(_), None) => mark(stream, &mut rows.ends, one, |row| &mut row.missing),
        (None, Some(_)) => mark(stream, &mut rows.ends, one, |row| &mut row.added),
        (None, None) => {}
    }
}

fn mark(
    stream: &StreamContext<'_>,
    row: &mut BarDifference,
    note: &ComparedNote,
    count: impl Fn(&mut BarDifference) -> &mut usize,
) {
    if row.missing + row.added == 0 && row.largest.is_none() {
        row.beat = stream.position(note.event.time).1;
    }
    *count(row) += 1;
}

impl NoteRows {
    fn count(&mut self, count: impl Fn(&mut BarDifference) -> &mut usize) {
        for row in [&mut self.notes, &mut self.velocities, &mut self.ends] {
            *count(row) += 1;
        }
    }
}

fn rows_at<'a>(
    stream: &StreamContext<'_>,
    rows: &'a mut BTreeMap<Option<u64>, NoteRows>,
    time: ScoreTime,
) -> &'a mut NoteRows {
    let row = |output: &str, unit| BarDifference { unit, ..stream.row(time, output.to_owned()) };
    rows.entry(stream.position(time).0).or_insert_with(|| NoteRows {
        notes: row("notes", None),
        velocities: row("velocities", Some("steps")),
        ends: row("note ends", Some("ms")),
    })
}

/// The notes in order of their beginning; of a key struck twice the first off ends the first.
fn notes<'a>(events: &'a [StreamEvent]) -> Vec<ComparedNote<'a>> {
    let mut notes: Vec<ComparedNote> = Vec::new();
    let mut open = [const { VecDeque::new() }; 128];
    for event in events {
        match Message::from_bytes(event.bytes) {
            Some(Message::NoteOn { key, velocity, .. }) => {
                open[usize::from(key)].push_back(notes.len());
                notes.push(ComparedNote { event, key, velocity, end: None });
            }
            Some(Message::NoteOff { key, .. }) => {
                if let Some(place) = open[usize::from(key)].pop_front() {
                    notes[place].end = Some(event.time);
                }
            }
            _ => {}
        }
    }
    notes
}
