//! The keys: which are held, which one owns the line, and which offs are still owed.

use super::drone::PassedNotes;
use crate::input::{Channel, Key, Wish};
use crate::math::grain::is_reached;

/// The most notes that sound or are held at once; one more ends the oldest early.
pub const NOTES_MAX: usize = 32;

/// One struck key, from its note-on until both its release and its off are done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    /// Where it was struck.
    pub channel: Channel,
    /// Which key.
    pub key: Key,
    /// The mark of its note-on.
    pub tag: u32,
    /// Which note of the line it is, counted from 1.
    pub serial: u64,
    /// When it was struck.
    pub on_s: f64,
    /// The key is down.
    pub is_held: bool,
    /// A hand holds it, not the song: a stop leaves it.
    pub is_live: bool,
    /// Its note-on has been sent and its note-off not yet.
    pub is_sounding: bool,
    /// Its off goes out at the first tick from here on, once it is released.
    pub off_due_s: f64,
    /// A newer note joined it: its off goes out no earlier.
    pub off_due_s_min: f64,
    /// Velocity of its release, of 127.
    pub off_velocity: f64,
    /// What was asked of it.
    pub wish: Option<Wish>,
    /// It is another player's: it passes, and the line knows nothing of it.
    pub is_foreign: bool,
    /// It is plucked or struck.
    pub is_plucked: bool,
    /// As hard as its note-on went out, of 127.
    pub velocity: u8,
    /// A join has left it, so it is no longer meant to sound.
    pub is_left: bool,
    /// A join has ended it at the receiver while the key is still down.
    pub is_cut: bool,
}

impl Note {
    /// A key struck just now.
    pub const fn struck(channel: Channel, key: Key, tag: u32, serial: u64, on_s: f64) -> Note {
        Note {
            channel,
            key,
            tag,
            serial,
            on_s,
            is_held: true,
            is_live: false,
            is_sounding: true,
            off_due_s: f64::INFINITY,
            off_due_s_min: f64::NEG_INFINITY,
            off_velocity: 64.0,
            wish: None,
            is_foreign: false,
            is_plucked: false,
            velocity: 64,
            is_left: false,
            is_cut: false,
        }
    }

    /// It is this key of this channel.
    pub fn is(&self, channel: Channel, key: Key) -> bool {
        self.channel == channel && self.key == key
    }

    /// Its off is owed: released, but still sounding.
    pub fn owes_off(&self) -> bool {
        self.is_sounding && !self.is_held
    }

    /// It lies under the line since long ago, until it lifts.
    pub fn is_drone(&self, passed: &PassedNotes, now_s: f64) -> bool {
        let may_be = self.is_held && self.is_sounding && !self.is_foreign;
        may_be && passed.makes_drone(self.serial, self.on_s, now_s)
    }

    /// The line knows nothing of it.
    pub fn lies_aside(&self, passed: &PassedNotes, now_s: f64) -> bool {
        self.is_foreign || self.is_drone(passed, now_s)
    }
}

/// The notes in the order in which they were struck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldNotes {
    notes: [Note; NOTES_MAX],
    count: usize,
    /// Those that have come up; trills do not count.
    passed: PassedNotes,
    /// No off is due before this.
    next_due_s: f64,
}

impl HeldNotes {
    /// No key is down.
    pub const NONE: HeldNotes = HeldNotes {
        notes: [Note::struck(Channel::FIRST, Key::LOWEST, 0, 0, 0.0); NOTES_MAX],
        count: 0,
        passed: PassedNotes::NONE,
        next_due_s: f64::INFINITY,
    };

    /// Oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Note> {
        self.notes[..self.count].iter()
    }

    /// Oldest first.
    pub fn iter_mut(&mut self) -> impl Iterator<Item = &mut Note> {
        self.notes[..self.count].iter_mut()
    }

    /// It belongs to the line: neither another player's nor a drone.
    fn is_of_line(&self, note: &Note, now_s: f64) -> bool {
        !note.lies_aside(&self.passed, now_s)
    }

    /// The notes that have come up.
    pub fn passed(&self) -> PassedNotes {
        self.passed
    }

    /// The key, if it is down, is a drone; of several strikes the one that lifts first.
    pub fn is_drone_key(&self, channel: Channel, key: Key, now_s: f64) -> bool {
        let mut own = self.iter().filter(|note| note.is_held && note.is(channel, key));
        own.next().is_some_and(|note| note.is_drone(&self.passed, now_s))
    }

    /// The drones.
    pub fn drones(&self, now_s: f64) -> impl Iterator<Item = &Note> {
        self.iter().filter(move |note| note.is_drone(&self.passed, now_s))
    }

    /// Some key of the line is down.
    pub fn any_held(&self, now_s: f64) -> bool {
        self.newest_held(now_s).is_some()
    }

    /// Some note of the line sounds.
    pub fn any_sounding(&self, now_s: f64) -> bool {
        self.iter().any(|note| note.is_sounding && self.is_of_line(note, now_s))
    }

    /// The newest key of the line that is down.
    pub fn newest_held(&self, now_s: f64) -> Option<Note> {
        let is_held = |note: &&Note| note.is_held && self.is_of_line(note, now_s);
        self.iter().rev().find(is_held).copied()
    }

    /// The newest key that is down, a drone too.
    pub fn newest_down(&self) -> Option<&Note> {
        self.iter().rev().find(|note| note.is_held && !note.is_foreign)
    }

    /// A note is still down.
    pub fn is_held(&self, serial: u64) -> bool {
        self.iter().any(|note| note.serial == serial && note.is_held)
    }

    /// The key of a note has come up, and it was no trill: those that lie under it have seen it.
    pub fn pass(&mut self, serial: u64) {
        self.passed.pass(serial);
    }

    /// The highest key that is down of those that are wanted.
    pub fn highest_held(&self, is_wanted: impl Fn(&Note) -> bool) -> Option<Note> {
        let held = self.iter().filter(|note| note.is_held && is_wanted(note));
        held.copied().max_by_key(|note| note.key)
    }

    /// How many times the key is down. (A file can strike a key again before releasing it.)
    pub fn held_count(&self, channel: Channel, key: Key) -> usize {
        self.iter().filter(|note| note.is_held && note.is(channel, key)).count()
    }

    /// Takes a struck key. When there is no room it gives back the oldest note, which must end.
    pub fn strike(&mut self, note: Note) -> Option<Note> {
        let oldest = (self.count == NOTES_MAX).then(|| self.notes[0]);
        if oldest.is_some() {
            self.notes.copy_within(1.., 0);
            self.count -= 1;
        }
        self.notes[self.count] = note;
        self.count += 1;
        oldest
    }

    /// The key comes up: offs pair first in, first out. `None` if it was not down.
    pub fn release(&mut self, channel: Channel, key: Key) -> Option<&mut Note> {
        let note = self.iter_mut().find(|note| note.is_held && note.is(channel, key))?;
        note.is_held = false;
        Some(note)
    }

    /// The off of one note goes out no earlier than `due_s`.
    pub fn postpone(&mut self, serial: u64, due_s: f64) {
        for note in self.iter_mut().filter(|note| note.serial == serial) {
            note.off_due_s = note.off_due_s.max(due_s);
        }
    }

    /// The off of one note goes out no earlier than `due_s`, whenever it was due.
    pub fn overlap(&mut self, serial: u64, due_s: f64) {
        for note in self.iter_mut().filter(|note| note.serial == serial) {
            note.off_due_s_min = due_s;
            note.off_due_s = due_s;
        }
        self.schedule();
    }

    /// A join has left the note, or it stays beside the new one.
    pub fn mark_left(&mut self, serial: u64, is_left: bool) {
        for note in self.iter_mut().filter(|note| note.serial == serial) {
            note.is_left = is_left;
        }
    }

    /// How hard a note went out.
    pub fn mark_velocity(&mut self, serial: u64, velocity: f64) {
        for note in self.iter_mut().filter(|note| note.serial == serial) {
            note.velocity = libm::round(velocity).clamp(1.0, 127.0) as u8;
        }
    }

    /// Ends a note at the receiver, the key stays as it is. Gives it if it sounded.
    pub fn cut(&mut self, serial: u64) -> Option<Note> {
        let note = self.iter_mut().find(|note| note.serial == serial && note.is_sounding)?;
        note.is_sounding = false;
        note.is_cut = note.is_held;
        let cut = *note;
        self.forget_done();
        self.schedule();
        Some(cut)
    }

    /// A note that was cut sounds again from now on, as if it were struck now.
    pub fn sound_again(&mut self, again: &Note, now_s: f64) -> Note {
        let (is_sounding, is_cut, is_left) = (true, false, false);
        let off_due_s_min = f64::NEG_INFINITY;
        let sounding = Note { is_sounding, is_cut, is_left, off_due_s_min, on_s: now_s, ..*again };
        for note in self.iter_mut().filter(|note| note.serial == again.serial) {
            *note = sounding;
        }
        sounding
    }

    /// Finds when the next off is due; after any change to what is owed.
    pub fn schedule(&mut self) {
        let owed = self.iter().filter(|note| note.owes_off()).map(|note| note.off_due_s);
        self.next_due_s = owed.fold(f64::INFINITY, f64::min);
    }

    /// When the next off is due.
    #[inline]
    pub fn next_due_s(&self) -> f64 {
        self.next_due_s
    }

    /// Some off is due.
    fn is_due(&self, now_s: f64) -> bool {
        is_reached(now_s, self.next_due_s)
    }

    /// The next note whose off is due now, taken out of the offs owed.
    pub fn take_due(&mut self, now_s: f64) -> Option<Note> {
        if !self.is_due(now_s) {
            return None;
        }
        let due = self.iter().position(|note| note.owes_off() && is_reached(now_s, note.off_due_s));
        let taken = due.map(|place| {
            self.notes[place].is_sounding = false;
            self.notes[place]
        });
        self.forget_done();
        self.schedule();
        taken
    }

    /// No off is due by itself.
    pub fn is_settled(&self) -> bool {
        self.next_due_s == f64::INFINITY
    }

    /// Drops the notes that neither sound nor are held.
    pub fn forget_done(&mut self) {
        let mut kept = 0;
        for place in 0..self.count {
            if self.notes[place].is_held || self.notes[place].is_sounding {
                self.notes[kept] = self.notes[place];
                kept += 1;
            }
        }
        self.count = kept;
    }
}
