//! Keys go down and come up: the order in which a note begins, and when its end goes out.

use super::chance::song_place;
use super::event::{Origin, Sink};
use super::legato::Join;
use super::line::{Line, Outlet};
use super::notes::Note;
use super::onset::Change;
use super::pace::{Beat, grain};
use super::reason::Reason;
use super::receive::When;
use super::strings::REGISTER_CENTRE_SEMITONES;
use super::told::Telling;
use super::{Mode, Phrase, tail};

/// The old note of a join sounds on at least this long.
const OVERLAP_S: f64 = 0.015;
/// The register narrows or widens the vibrato within these bounds.
const REGISTER_MIN: f64 = 0.6;
const REGISTER_MAX: f64 = 1.6;

/// A note-on as it was played.
#[derive(Clone, Copy, Debug)]
pub(super) struct Struck {
    pub channel: u8,
    pub key: u8,
    pub velocity: u8,
    pub tag: u32,
    /// A hand plays it, not the song.
    pub is_live: bool,
}

impl Line {
    /// A key is struck. In this order and at one time: an off still owed to the key, controllers
    /// and bend, articulation and mode, the note-on. A key that chooses does not sound.
    pub fn note_on(
        &mut self,
        now_s: f64,
        tick: u64,
        struck: Struck,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let Struck { channel, key, velocity, tag, is_live } = struck;
        if let Some(articulation) = self.chosen_by(key) {
            self.choose(articulation);
            return;
        }
        let silence_s = if self.is_silent() { now_s - self.silent_since_s } else { 0.0 };
        let beat = self.pace.strike(now_s, key, silence_s);
        let from_key = self.joins_from(now_s, beat);
        self.end_before(now_s, struck, from_key.is_some(), out);
        let pace_s = self.pace.pace_s;
        let gesture = self.gesture.now();
        let wish = self.wishes.take(now_s, channel, key);
        let slide = wish.and_then(|wish| wish.slide);
        let join = Join { from_key, key, beat, pace_s, gesture: gesture.manner, slide };
        let mode = self.legato.decide(&join);

        self.note_count += 1;
        let note =
            Note { is_live, wish, ..Note::struck(channel, key, tag, self.note_count, now_s) };
        if let Some(oldest) = self.notes.strike(note) {
            self.stolen_notes += 1;
            if oldest.is_sounding {
                let origin = Origin::Note(oldest.tag);
                out.way.note_off(oldest.channel, oldest.key, oldest.off_velocity, origin);
            }
        }
        self.phrase = Phrase::Sounding;
        self.style.latch();
        if mode == Mode::Fresh {
            if !beat.is_chord {
                self.tail.fresh(now_s, gesture);
            }
            self.dynamics.strike(now_s, velocity, beat.is_chord, gesture.x);
        } else {
            self.tail.join(now_s);
        }
        self.take_line(now_s, note, beat, mode);

        if channel != self.channel {
            out.outputs.centre(self.channel, &mut out.way);
            self.channel = channel;
            out.outputs.forget();
            self.told.forget();
        }
        self.resync_first(When { now_s, tick }, out);
        let moment = self.moment(now_s);
        let driven = out.outputs.velocity(&moment);
        out.outputs.flush(tick, &moment, &mut out.way);
        self.told.tell(now_s, self.telling(mode, from_key), &mut out.way);
        self.told.yield_key(channel, key, &mut out.way);
        let velocity = driven.unwrap_or_else(|| self.velocity(velocity, beat, mode));
        out.way.note_on(channel, key, velocity, Origin::Note(tag));
        out.outputs.flush_key(tick, &self.moment(now_s), &mut out.way);
    }

    /// What the receiver is told with a note.
    pub fn telling(&self, mode: Mode, from_key: Option<u8>) -> Telling {
        Telling { mode, articulation: self.articulation, from_key, channel: self.channel }
    }

    /// A key comes up. False if it was not down.
    pub fn note_off(&mut self, now_s: f64, channel: u8, key: u8, velocity: u8) -> bool {
        let Some(note) = self.notes.release(channel, key) else { return false };
        note.off_velocity = velocity;
        note.off_due_s = (now_s + self.join_gap_s).max(note.off_due_s_min);
        let (released, due_s) = (*note, note.off_due_s);
        self.gesture.note_off(now_s);
        self.notes.forget_done();
        if self.notes.any_held() {
            self.give_back(now_s, released);
        } else if released.is_sounding {
            self.end_line(now_s, released, due_s);
        }
        self.notes.schedule();
        true
    }

    /// Sends every off that is due.
    #[inline]
    pub fn send_due_offs(&mut self, now_s: f64, out: &mut Outlet<'_, impl Sink>) {
        if self.notes.is_due(now_s) {
            self.send_offs(now_s, out);
        }
    }

    fn send_offs(&mut self, now_s: f64, out: &mut Outlet<'_, impl Sink>) {
        while let Some(note) = self.notes.take_due(now_s) {
            out.way.note_off(note.channel, note.key, note.off_velocity, Origin::Note(note.tag));
            if !self.notes.any_sounding() && !self.is_pedalled() {
                self.fall_silent(now_s);
            }
        }
    }

    /// The pedal goes down or comes up.
    pub fn pedal(&mut self, now_s: f64, is_down: bool) {
        let was_pedalled = self.is_pedalled();
        self.is_pedal_down = is_down;
        if was_pedalled && !is_down && !self.notes.any_sounding() {
            self.fall_silent(now_s);
        }
    }

    /// Only the pedal holds the note.
    pub fn is_pedalled(&self) -> bool {
        self.is_pedal_down && self.phrase == Phrase::Sounding
    }

    fn is_silent(&self) -> bool {
        self.phrase == Phrase::Rest && !self.notes.any_sounding()
    }

    pub fn fall_silent(&mut self, now_s: f64) {
        self.phrase = Phrase::Rest;
        self.silent_since_s = now_s;
        self.vibrato.onset.release(now_s);
        self.tail.off(now_s);
    }

    /// The key that a note of this beat would join.
    fn joins_from(&self, now_s: f64, beat: Beat) -> Option<u8> {
        if beat.is_chord {
            return None;
        }
        let waits = grain(now_s - self.released_s) <= self.join_wait_s();
        let joins = self.notes.any_held() || self.notes.any_sounding() && waits;
        self.owner.filter(|_| joins).map(|note| note.key)
    }

    /// How long after the last release a note still joins.
    fn join_wait_s(&self) -> f64 {
        if self.phrase == Phrase::Tail {
            tail::JOIN_S.max(self.join_gap_s)
        } else {
            self.join_gap_s
        }
    }

    /// What a note-on ends: its own key, and the offs of what it does not join.
    fn end_before(
        &mut self,
        now_s: f64,
        struck: Struck,
        is_joined: bool,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let is_tail = self.phrase == Phrase::Tail;
        for note in self.notes.iter_mut().filter(|note| note.is_sounding) {
            let is_same = note.is(struck.channel, struck.key);
            if is_same || is_tail && !is_joined {
                note.is_sounding = false;
                out.way.note_off(note.channel, note.key, note.off_velocity, Origin::Note(note.tag));
            } else if is_joined {
                note.off_due_s_min = now_s + OVERLAP_S;
                note.off_due_s = note.off_due_s_min;
            }
        }
        self.notes.forget_done();
        self.notes.schedule();
    }

    /// The new note owns the line, or the upper one of a chord.
    fn take_line(&mut self, now_s: f64, note: Note, beat: Beat, mode: Mode) {
        let chord_top = self.notes.highest_held_since(self.pace.chord_start_s);
        let owner = if beat.is_chord { chord_top.unwrap_or(note) } else { note };
        if owner.serial != note.serial {
            self.replace_hand(now_s);
            return;
        }
        self.owner = Some(owner);
        self.owned_since_s = now_s;
        let change = if beat.is_chord {
            Change { ..self.change }
        } else {
            let (ioi_s, is_trill) = (beat.ioi_s, beat.is_trill);
            Change { ioi_s, is_trill, is_joined: mode != Mode::Fresh, ..self.change }
        };
        self.change_vibrato(now_s, change);
    }

    /// The owner may have lifted: the newest key still held owns the line and sounds again.
    pub fn give_back(&mut self, now_s: f64, released: Note) {
        let is_owner = self.owner.is_some_and(|owner| owner.serial == released.serial);
        if !is_owner {
            self.replace_hand(now_s);
            return;
        }
        let Some(newest) = self.notes.newest_held() else { return };
        let is_trill = self.pace.own(now_s, newest.key);
        let ioi_s = now_s - self.owned_since_s;
        self.owner = Some(newest);
        self.owned_since_s = now_s;
        self.change_vibrato(now_s, Change { ioi_s, is_trill, is_joined: true, ..self.change });
    }

    fn change_vibrato(&mut self, now_s: f64, change: Change) {
        let Some(owner) = self.owner else { return };
        self.style.wish(owner.wish.and_then(|wish| wish.style));
        let pace_s = self.pace.pace_s;
        self.is_double_stop_open = self.shares_bend_with_open(owner);
        self.change = Change {
            pace_s,
            is_forced_open: self.strings.is_forced_open(owner.key),
            is_open: self.is_left_open(owner, pace_s),
            register: self.register(owner.key),
            ..change
        };
        let place = match self.song.is_running {
            true => song_place(self.song.beat_at(now_s)),
            false => self.note_count,
        };
        self.vibrato.change(now_s, &self.change, place, owner.key);
    }

    /// Another key of the chord came or went: the hand lies elsewhere, the note goes on.
    pub fn replace_hand(&mut self, now_s: f64) {
        let Some(owner) = self.owner else { return };
        self.is_double_stop_open = self.shares_bend_with_open(owner);
        self.change.is_open = self.is_left_open(owner, self.change.pace_s);
        self.vibrato.onset.place(now_s, self.change.is_open, self.change.register);
    }

    /// The note is not vibrated: by its string, by a note that shares its bend, or by a wish.
    fn is_left_open(&self, owner: Note, pace_s: f64) -> bool {
        self.strings.is_open(owner.key, pace_s)
            || self.is_double_stop_open
            || self.wished_still().is_some()
    }

    /// The owner and a forced-open note of its chord share one bend.
    fn shares_bend_with_open(&self, owner: Note) -> bool {
        let start_s = self.pace.chord_start_s;
        let is_forced = |note: &Note| note.is_held && self.strings.is_forced_open(note.key);
        self.bends
            && owner.on_s >= start_s
            && self
                .notes
                .iter()
                .any(|note| note.on_s >= start_s && note.key != owner.key && is_forced(note))
    }

    pub fn register(&self, key: u8) -> f64 {
        let height = self.strings.height_semitones(key, self.pace.pace_s);
        let factor = 1.0 + self.register_per_semitone * (height - REGISTER_CENTRE_SEMITONES);
        factor.clamp(REGISTER_MIN, REGISTER_MAX)
    }

    /// No key is down any more: the pedal holds the note, or it is drawn out, or it ends.
    fn end_line(&mut self, now_s: f64, released: Note, due_s: f64) {
        self.released_s = now_s;
        if self.is_pedal_down {
            self.tail_reason = Reason::PedalHolds;
            return;
        }
        let start_s = self.owner.map_or(released.on_s, |owner| owner.on_s);
        match self.tail.length_s(grain(now_s - start_s), self.pace.pace_s) {
            Some(length_s) => {
                self.tail_reason = Reason::LongLastNote;
                self.phrase = Phrase::Tail;
                self.tail.begin(now_s, length_s);
                self.notes.postpone(released.serial, (now_s + length_s).max(due_s));
            }
            None => self.tail_reason = Reason::ShortLastNote,
        }
    }

    fn velocity(&self, velocity: u8, beat: Beat, mode: Mode) -> u8 {
        match (mode, self.told.speed_velocity()) {
            _ if beat.is_chord => velocity,
            (Mode::Fresh, _) => self.dynamics.velocity(velocity),
            (_, Some((slow, fast))) => self.legato.speed(beat.ioi_s, slow, fast),
            _ => velocity,
        }
    }
}
