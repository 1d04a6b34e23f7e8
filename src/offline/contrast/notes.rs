//! Notes: which are missing or new, how hard they are struck and when they end.

use super::place::Place;
use super::single::pair;
use super::stream::{Item, Pair};
use super::{Difference, Sheet};
use crate::engine::Message;

/// A note from its on to its off.
struct Note {
    item: Item,
    key: u8,
    velocity: u8,
    /// `None` if it never ends.
    end: Option<Place>,
}

impl AsRef<Item> for Note {
    fn as_ref(&self) -> &Item {
        &self.item
    }
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
    let partners = pair(sheet, &sides[0], &sides[1], |one, other| one.key == other.key);
    let mut rows: Vec<Rows> = Vec::new();
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
    let all = rows.into_iter().flat_map(|row| [row.notes, row.velocities, row.ends]);
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

fn rows_at<'a>(sheet: &Sheet<'_>, rows: &'a mut Vec<Rows>, place: Place) -> &'a mut Rows {
    let bar = sheet.position(place).0;
    let at = rows.binary_search_by_key(&bar, |rows| rows.notes.bar).unwrap_or_else(|at| {
        let row = |output: &str, unit| Difference { unit, ..sheet.row(place, output.to_owned()) };
        let new = Rows {
            notes: row("notes", None),
            velocities: row("velocities", Some("steps")),
            ends: row("note ends", Some("ms")),
        };
        rows.insert(at, new);
        at
    });
    &mut rows[at]
}

/// The notes in order of their beginning; of a key struck twice the first off ends the first.
fn notes(items: &[Item]) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for item in items {
        match Message::from_bytes(&item.bytes) {
            Some(Message::NoteOn { key, velocity, .. }) => {
                open.push(notes.len());
                notes.push(Note { item: item.clone(), key, velocity, end: None });
            }
            Some(Message::NoteOff { key, .. }) => {
                if let Some(place) = open.iter().position(|note| notes[*note].key == key) {
                    notes[open.remove(place)].end = Some(item.place);
                }
            }
            _ => {}
        }
    }
    notes
}
