//! Keys that the line knows nothing of: another player's pass as they are, a drone ends when it lifts.

use super::note_on::send_off;
use super::{Line, Struck};
use crate::notes::held::Note;
use crate::output::outlet::Outlet;
use crate::output::{Origin, Sink};
use crate::phrase::Phrase;
use crate::reason::Reason;

/// The serial of notes that are not the line's; its own count from 1.
const NO_SERIAL: u64 = 0;

impl Line {
    /// Another player's key goes down. Owner, pace, phrase and vibrato stay as they are; the note
    /// is kept only so that each on gets its off, at a stop and a jump too.
    pub(super) fn pass_on(&mut self, now_s: f64, struck: Struck, out: &mut Outlet<'_, impl Sink>) {
        let Struck { channel, key, velocity, tag, is_live } = struck;
        let is_same = |note: &&mut Note| note.is_sounding && note.is(channel, key);
        for note in self.notes.iter_mut().filter(is_same) {
            note.is_sounding = false;
            send_off(note, out);
        }
        self.notes.forget_done();
        let plain = Note::struck(channel, key, tag, NO_SERIAL, now_s);
        self.keep(Note { is_live, is_foreign: true, ..plain }, out);
        self.notes.schedule();
        out.switching.yield_key(channel, key, &mut out.sender);
        out.sender.note_on(channel, key, velocity, Origin::Note(tag));
    }

    /// A key that lies aside has come up and its off is due. False for another player's, which is
    /// no release of the line. A drone that had the line to itself ends it.
    pub(super) fn let_pass(&mut self, now_s: f64, released: Note) -> bool {
        let is_owner = self.owner.is_some_and(|owner| owner.serial == released.serial);
        if is_owner && self.phrase == Phrase::Sounding {
            self.released_s = now_s;
            self.tail_reason = match self.is_pedal_down {
                true => Reason::PedalHolds,
                false => Reason::DroneEnd,
            };
        }
        self.notes.schedule();
        !released.is_foreign
    }
}
