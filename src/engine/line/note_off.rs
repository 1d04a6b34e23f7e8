//! A key comes up, the pedal moves, the song stops: when a note's end goes out, and who owns the line then.

use super::note_on::send_off;
use super::{HOME_S, Line, Moment};
use crate::input::{Channel, Key};
use crate::layers::onset::NoteChange;
use crate::layers::tail;
use crate::layers::transition::Transition;
use crate::math::grain::grain;
use crate::notes::held::Note;
use crate::output::Sink;
use crate::output::outlet::Outlet;
use crate::patch::setup::Setup;
use crate::phrase::Phrase;
use crate::reason::Reason;

impl Line {
    /// A key comes up with a velocity of 127. False if it was not down.
    pub fn note_off(
        &mut self,
        moment: &Moment,
        (channel, key): (Channel, Key),
        velocity: f64,
        out: &mut Outlet<'_, impl Sink>,
    ) -> bool {
        let Moment { setup, now_s, .. } = *moment;
        let is_drone = self.notes.is_drone_key(channel, key, now_s);
        let Some(note) = self.notes.release(channel, key) else { return false };
        note.off_velocity = velocity;
        note.off_due_s = match is_drone || note.is_foreign {
            true => now_s,
            false => (now_s + setup.patch.legato.join_gap_s).max(note.off_due_s_min),
        };
        let (released, due_s) = (*note, note.off_due_s);
        self.notes.forget_done();
        if is_drone || released.is_foreign {
            return self.let_pass(now_s, released);
        }
        if !self.change.is_trill {
            // The lower key of a trill is held and struck by no hand again: it is no drone.
            self.notes.pass(released.serial);
        }
        if self.notes.any_held(now_s) {
            self.give_back(moment, released, out);
        } else if released.is_sounding {
            self.end_line(setup, now_s, released, due_s);
        }
        self.notes.schedule();
        true
    }

    /// Some off is due by then.
    #[inline]
    pub fn owes_off_by(&self, by_s: f64) -> bool {
        by_s >= self.notes.next_due_s()
    }

    /// Sends every off that is due.
    pub fn send_due_offs(&mut self, setup: &Setup, now_s: f64, out: &mut Outlet<'_, impl Sink>) {
        while let Some(note) = self.notes.take_due(now_s) {
            send_off(&note, out);
            let is_over = self.phrase != Phrase::Rest && !self.goes_on(now_s);
            if is_over && !self.is_pedalled() {
                self.fall_silent(setup, now_s);
            }
        }
    }

    /// The pedal goes down or comes up, under a foot or by the song.
    pub fn move_pedal(&mut self, setup: &Setup, now_s: f64, is_down: bool, is_live: bool) {
        self.is_pedal_live = is_live;
        self.pedal(setup, now_s, is_down);
    }

    /// Who moved the pedal last.
    pub fn mark_pedal(&mut self, is_live: bool) {
        self.is_pedal_live = is_live;
    }

    /// The pedal was moved by a foot, not by the song.
    pub fn is_pedal_live(&self) -> bool {
        self.is_pedal_live
    }

    /// The pedal is down.
    pub fn is_pedal_down(&self) -> bool {
        self.is_pedal_down
    }

    /// The pedal is down all the same: what has just ended everything lets no pedal up.
    pub fn keep_pedal(&mut self, is_down: bool) {
        self.is_pedal_down = is_down;
    }

    pub(super) fn pedal(&mut self, setup: &Setup, now_s: f64, is_down: bool) {
        let was_pedalled = self.is_pedalled();
        self.is_pedal_down = is_down;
        if was_pedalled && !is_down && !self.goes_on(now_s) {
            self.fall_silent(setup, now_s);
        }
    }

    /// Only the pedal holds the note.
    fn is_pedalled(&self) -> bool {
        self.is_pedal_down && self.phrase == Phrase::Sounding
    }

    /// A note of the line sounds, or its owner is still down, though it has become a drone.
    fn goes_on(&self, now_s: f64) -> bool {
        let is_down = |owner: Note| self.notes.is_held(owner.serial);
        self.notes.any_sounding(now_s) || self.owner.is_some_and(is_down)
    }

    /// Nothing sounds, and no pedal holds a note.
    pub(super) fn is_silent(&self, now_s: f64) -> bool {
        self.phrase == Phrase::Rest && !self.notes.any_sounding(now_s)
    }

    pub(super) fn fall_silent(&mut self, setup: &Setup, now_s: f64) {
        self.phrase = Phrase::Rest;
        self.silent_since_s = now_s;
        self.vibrato.onset.release(&setup.patch.vibrato, now_s);
        self.tail.off(now_s);
    }

    /// The owner may have lifted: the newest key still held owns the line and sounds again. One that
    /// a join has cut is struck again.
    fn give_back(&mut self, moment: &Moment, released: Note, out: &mut Outlet<'_, impl Sink>) {
        let is_owner = self.owner.is_some_and(|owner| owner.serial == released.serial);
        if !is_owner {
            self.replace_hand(moment.now_s, moment.setup);
            return;
        }
        let Some(newest) = self.notes.newest_held(moment.now_s) else { return };
        if newest.is_cut {
            return self.strike_again(moment, released, newest, out);
        }
        self.transition = Transition::NONE;
        self.notes.mark_left(newest.serial, false);
        let is_trill = self.pace.own(moment.now_s, newest.key.number());
        let ioi_s = moment.now_s - self.owned_since_s;
        self.owner = Some(newest);
        self.owned_since_s = moment.now_s;
        self.change_vibrato(moment, NoteChange { ioi_s, is_trill, is_joined: true, ..self.change });
    }

    /// No key is down any more: the pedal holds the note, or it is drawn out, or it ends.
    fn end_line(&mut self, setup: &Setup, now_s: f64, released: Note, due_s: f64) {
        self.released_s = now_s;
        if self.is_pedal_down {
            self.tail_reason = Reason::PedalHolds;
            return;
        }
        if released.is_left && self.owner.is_some_and(|owner| owner.serial == released.serial) {
            self.tail_reason = Reason::WentOn;
            return;
        }
        let rings = self.owner.map_or(released.is_plucked, |owner| owner.is_plucked);
        if rings || self.notes.drones(now_s).any(|note| note.channel == released.channel) {
            self.tail_reason = if rings { Reason::PluckedEnd } else { Reason::DroneUnderEnd };
            return;
        }
        let start_s = self.owner.map_or(released.on_s, |owner| owner.on_s);
        let tail = &setup.patch.tail;
        match tail::length_s(tail, grain(now_s - start_s), self.pace.pace_s) {
            Some(length_s) => {
                self.tail_reason = Reason::LongLastNote;
                self.phrase = Phrase::Tail;
                self.tail.begin(tail, now_s, length_s);
                self.notes.postpone(released.serial, (now_s + length_s).max(due_s));
            }
            None => self.tail_reason = Reason::ShortLastNote,
        }
    }

    /// The song stops: the notes that it began end; keys that a hand holds stay; the bend goes
    /// home.
    pub fn stop(&mut self, moment: &Moment, out: &mut Outlet<'_, impl Sink>) {
        let Moment { setup, now_s, .. } = *moment;
        let owner = self.owner;
        for note in self.notes.iter_mut().filter(|note| !note.is_live) {
            if note.is_sounding {
                send_off(note, out);
            }
            (note.is_sounding, note.is_held) = (false, false);
        }
        self.notes.forget_done();
        self.notes.schedule();
        if !self.is_pedal_live {
            out.sender.lift_pedals();
            self.is_pedal_down = false;
        }
        if self.notes.any_held(now_s) {
            if let Some(owner) = owner.filter(|owner| !owner.is_live) {
                self.give_back(moment, owner, out);
            }
        } else if !self.goes_on(now_s) && !self.is_pedalled() {
            if self.phrase != Phrase::Rest {
                self.fall_silent(setup, now_s);
            }
            self.vibrato.onset.release_within(&setup.patch.vibrato, now_s, HOME_S);
            self.player_bend.aim(now_s, 0.0, HOME_S);
            self.transition.hasten(now_s, HOME_S);
            out.switching.close(&mut out.sender);
        }
        out.switching.portamento.end(self.channel, &mut out.sender);
    }

    /// Ends everything of it that sounds at the receiver.
    pub fn close(&self, out: &mut Outlet<'_, impl Sink>) {
        for note in self.notes.iter().filter(|note| note.is_sounding) {
            send_off(note, out);
        }
        out.switching.release(&mut out.sender);
        out.switching.portamento.end(self.channel, &mut out.sender);
    }
}
