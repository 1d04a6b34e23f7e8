//! Notes: which are missing or new, how hard they are struck and when they end.

use std::collections::{BTreeMap, VecDeque};

use super::place::Place;
use super::single::pair;
use super::stream::{Item, Pair};
use super::{Difference, Sheet};
use crate::engine::event::Message;

/// A note from its on to its off.
struct Note<'a> {
    item: &'a Item<'a>,
    key: u8,
    velocity: u8,
    /// `None` if it never ends.
    end: Option<Place>,
}

/// The three things that are told of the notes of a bar.
struct Rows {
    notes: Difference,
    velocities: Difference,
    ends: Difference,
}

/// Compares the notes of one channel.
pub fn compare(sheet: &Sheet<'_>, events: &Pair, differences: &mut Vec<Difference>) {
    let sides = [notes(&events[0]), notes(&events[1])];
    let [one, other] = sides.each_ref().map(|side| {
        side.iter().map(|note| (note.item.place, note.key)).collect::<Vec<(Place, u8)>>()
    });
    let partners = pair(sheet, &one, &other);
    let mut rows: BTreeMap<Option<u64>, Rows> = BTreeMap::new();
    let mut is_found = vec![false; sides[1].len()];
    for (note, partner) in sides[0].iter().zip(&partners) {
        let row = rows_at(sheet, &mut rows, note.item.place);
        row.count(|row| &mut row.first_count);
        let Some(place) = *partner else {
            mark(sheet, &mut row.notes, note, |row| &mut row.missing);
            continue;
        };
        is_found[place] = true;
        match_up(sheet, row, note, &sides[1][place]);
    }
    for (note, is_found) in sides[1].iter().zip(is_found) {
        let row = rows_at(sheet, &mut rows, note.item.place);
        row.count(|row| &mut row.second_count);
        if !is_found {
            mark(sheet, &mut row.notes, note, |row| &mut row.added);
        }
    }
    let all = rows.into_values().flat_map(|row| [row.notes, row.velocities, row.ends]);
    differences.extend(all.filter(|row| row.missing + row.added + row.changed > 0));
}

/// Velocity and end of a note that both files have.
fn match_up(sheet: &Sheet<'_>, rows: &mut Rows, one: &Note, other: &Note) {
    let beat = sheet.position(one.item.place).1;
    let steps = f64::from(one.velocity.abs_diff(other.velocity));
    if steps > sheet.within.steps {
        rows.velocities.changed += 1;
        rows.velocities.stretch(steps, beat);
    }
    match (one.end, other.end) {
        (Some(one), Some(other)) => {
            if one != other {
                let ms = (sheet.score.ms(one) - sheet.score.ms(other)).abs();
                if ms > sheet.within.ms {
                    rows.ends.changed += 1;
                    rows.ends.stretch(ms, beat);
                }
            }
        }
        (Some(_), None) => mark(sheet, &mut rows.ends, one, |row| &mut row.missing),
        (None, Some(_)) => mark(sheet, &mut rows.ends, one, |row| &mut row.added),
        (None, None) => {}
    }
}

fn mark(
    sheet: &Sheet<'_>,
    row: &mut Difference,
    note: &Note,
    count: impl Fn(&mut Difference) -> &mut usize,
) {
    if row.missing + row.added == 0 && row.largest.is_none() {
        row.beat = sheet.position(note.item.place).1;
    }
    *count(row) += 1;
}

impl Rows {
    fn count(&mut self, count: impl Fn(&mut Difference) -> &mut usize) {
        for row in [&mut self.notes, &mut self.velocities, &mut self.ends] {
            *count(row) += 1;
        }
    }
}

fn rows_at<'a>(
    sheet: &Sheet<'_>,
    rows: &'a mut BTreeMap<Option<u64>, Rows>,
    place: Place,
) -> &'a mut Rows {
    let row = |output: &str, unit| Difference { unit, ..sheet.row(place, output.to_owned()) };
    rows.entry(sheet.position(place).0).or_insert_with(|| Rows {
        notes: row("notes", None),
        velocities: row("velocities", Some("steps")),
        ends: row("note ends", Some("ms")),
    })
}

/// The notes in order of their beginning; of a key struck twice the first off ends the first.
fn notes<'a>(items: &'a [Item]) -> Vec<Note<'a>> {
    let mut notes: Vec<Note> = Vec::new();
    let mut open = [const { VecDeque::new() }; 128];
    for item in items {
        match Message::from_bytes(item.bytes) {
            Some(Message::NoteOn { key, velocity, .. }) => {
                open[usize::from(key)].push_back(notes.len());
                notes.push(Note { item, key, velocity, end: None });
            }
            Some(Message::NoteOff { key, .. }) => {
                if let Some(place) = open[usize::from(key)].pop_front() {
                    notes[place].end = Some(item.place);
                }
            }
            _ => {}
        }
    }
    notes
}
