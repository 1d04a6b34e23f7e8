//! The notes of a line as they are put together from ons and offs.

use crate::engine::input::message::KEY_COUNT;

/// One note.
#[derive(Clone, Copy, Debug)]
pub struct NoteSpan {
    /// 0..=127
    pub key: u8,
    /// When it begins, seconds.
    pub on_s: f64,
    /// How long it is down.
    pub length_s: f64,
    /// Another note begins while it is down.
    pub is_held_under: bool,
}

/// Puts ons and offs together. A key that is struck again while it is down ends there.
#[derive(Debug, Default)]
pub struct NoteTally {
    notes: Vec<NoteSpan>,
    /// The places of the notes whose keys are down, at most one a key.
    down: Vec<usize>,
}

impl NoteTally {
    /// A key goes down.
    pub fn on(&mut self, key: u8, at_s: f64) {
        self.off(key, at_s);
        for &place in &self.down {
            self.notes[place].is_held_under = true;
        }
        self.down.push(self.notes.len());
        self.notes.push(NoteSpan { key, on_s: at_s, length_s: 0.0, is_held_under: false });
    }

    /// A key goes up.
    pub fn off(&mut self, key: u8, at_s: f64) {
        let Some(at) = self.down.iter().position(|place| self.notes[*place].key == key) else {
            return;
        };
        let note = &mut self.notes[self.down.remove(at)];
        note.length_s = at_s - note.on_s;
    }

    /// All notes, and how many of them never end: they are taken to last to `end_s`.
    pub fn finish(mut self, end_s: f64) -> (Vec<NoteSpan>, usize) {
        for &place in &self.down {
            self.notes[place].length_s = end_s - self.notes[place].on_s;
        }
        (self.notes, self.down.len())
    }
}

/// How often each key is struck.
pub fn struck(notes: &[NoteSpan]) -> Vec<usize> {
    let mut counts = vec![0; KEY_COUNT];
    notes.iter().for_each(|note| counts[usize::from(note.key)] += 1);
    counts
}
