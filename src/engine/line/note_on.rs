//! A key goes down: in which order its note begins, and what it ends.

use super::{Line, Moment};
use crate::input::{Channel, Key, NoteWish, Wish};
use crate::layers::dynamics::blended_velocity;
use crate::layers::legato::{Join, speed};
use crate::layers::onset::NoteChange;
use crate::math::chance::song_place;
use crate::math::grain::grain;
use crate::mode::Mode;
use crate::notes::held::Note;
use crate::notes::pace::{Beat, NoteStart};
use crate::output::outlet::Outlet;
use crate::output::switching::NoteManner;
use crate::output::{Origin, Sink};
use crate::patch::JoinedVelocity;
use crate::patch::setup::Setup;
use crate::phrase::Phrase;

/// The old note of a join sounds on at least this long, unless it is cut.
pub(super) const OVERLAP_S: f64 = 0.015;
/// A new note this soon after the last release joins the tail.
const TAIL_JOIN_S: f64 = 0.06;

/// A note-on as it was played.
#[derive(Clone, Copy, Debug)]
pub struct Struck {
    /// Where.
    pub channel: Channel,
    /// Which key.
    pub key: Key,
    /// How hard, of 127.
    pub velocity: f64,
    /// The mark of its event.
    pub tag: u32,
    /// A hand plays it, not the song.
    pub is_live: bool,
}

impl Struck {
    /// No note.
    pub const NONE: Struck =
        Struck { channel: Channel::FIRST, key: Key::LOWEST, velocity: 0.0, tag: 0, is_live: false };
}

impl Line {
    /// A key is struck. In this order and at one time: an off still owed to the key, controllers
    /// and bend, articulation and mode, the note-on.
    pub fn note_on(&mut self, moment: &Moment, struck: Struck, out: &mut Outlet<'_, impl Sink>) {
        let Moment { setup, now_s, .. } = *moment;
        if setup.patch.notes.is_foreign(struck.key.number()) {
            return self.pass_on(now_s, struck, out);
        }
        let beat = self.pace.strike(&self.note_start(setup, now_s, struck.key));
        let held = self.could_join(setup, now_s);
        self.begin(moment, struck, (beat, held), out);
    }

    /// A note of the line begins; `held` is the one that it could join.
    pub(super) fn begin(
        &mut self,
        moment: &Moment,
        struck: Struck,
        (beat, held): (Beat, Option<Note>),
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let Struck { channel, key, velocity, tag, is_live } = struck;
        let Moment { setup, gesture, now_s, .. } = *moment;
        let patch = &setup.patch;
        let is_plucked = patch.target.articulation.is_plucked(moment.articulation);
        let held = held.filter(|_| !beat.is_chord);
        let left = held.filter(|_| !is_plucked);
        let from_key = left.map(|note| note.key.number());
        self.end_before(now_s, struck, left.is_some(), out);
        let wish = self.asked_of(moment, channel, key);
        let join = Join {
            from_key: held.map(|note| note.key.number()),
            is_plucked,
            key: key.number(),
            beat,
            pace_s: self.pace.pace_s,
            gesture: gesture.manner,
            has_moved: gesture.is_known,
            wish: wish.and_then(|wish| wish.asked.legato),
        };
        let mode = self.legato.decide(&patch.legato, &patch.strings, &join);

        self.note_count += 1;
        let note = Note {
            is_live,
            wish,
            is_plucked,
            ..Note::struck(channel, key, tag, self.note_count, now_s)
        };
        self.keep(note, out);
        let leaving = self.set_out(moment, left, &note, mode);
        self.phrase = Phrase::Sounding;
        self.style.latch(&patch.vibrato);
        if mode == Mode::Fresh {
            if !beat.is_chord {
                self.tail.fresh(now_s, &gesture, setup.may_fall_silent());
            }
            self.dynamics.strike(&patch.dynamics, now_s, velocity, beat.is_chord, gesture.x);
        } else {
            self.tail.join(now_s);
        }
        self.take_line(moment, note, beat, mode);

        let manner = self.manner(mode, from_key, moment.articulation, leaving.glide);
        let driven = out.outputs.velocity(&self.values(setup, &gesture, now_s));
        let velocity = driven.unwrap_or_else(|| velocity_of(moment, velocity, beat, mode));
        self.notes.mark_velocity(note.serial, velocity);
        self.sound(moment, &note, (manner, velocity), out);
        self.cut(leaving.cut, out);
        (self.awaits_first, self.has_news) = (false, false);
    }

    /// What is asked of a note that begins now: by a wish of its own, else by the stretch it begins in.
    fn asked_of(&mut self, moment: &Moment, channel: Channel, key: Key) -> Option<Wish> {
        let (channel, key) = (channel.number(), key.number());
        let own = self.wishes.take(moment.now_s, channel, key);
        let asked = own.map_or(NoteWish::NONE, |wish| wish.asked).over(moment.stretch_wish());
        (own.is_some() || asked != NoteWish::NONE).then_some(Wish { channel, key, asked })
    }

    /// Remembers a struck note; where there is no room the oldest ends early.
    pub(super) fn keep(&mut self, note: Note, out: &mut Outlet<'_, impl Sink>) {
        let Some(oldest) = self.notes.strike(note) else { return };
        self.stolen_notes += 1;
        if oldest.is_sounding {
            send_off(&oldest, out);
        }
    }

    /// What the receiver hears of a note: controllers and bend, articulation and mode, the note-on
    /// with its velocity of 127, the pressure of its key.
    pub(super) fn sound(
        &mut self,
        moment: &Moment,
        note: &Note,
        (manner, velocity): (NoteManner, f64),
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let Moment { setup, gesture, now_s, tick, .. } = *moment;
        if note.channel != self.channel {
            out.switching.portamento.end(self.channel, &mut out.sender);
            out.outputs.centre(setup, self.channel, &mut out.sender);
            self.channel = note.channel;
            out.outputs.forget();
            out.switching.forget();
        }
        let values = self.values(setup, &gesture, now_s);
        if moment.leads {
            if self.awaits_first && self.has_news {
                out.resync(tick, &values);
            }
            out.outputs.flush(tick, &values, &mut out.sender);
        }
        let manner = NoteManner { channel: self.channel, ..manner };
        out.switching.tell(setup, now_s, manner, &mut out.sender);
        out.switching.yield_key(note.channel, note.key, &mut out.sender);
        out.sender.note_on(note.channel, note.key, velocity, Origin::Note(note.tag));
        if moment.leads {
            out.outputs.flush_key(tick, &values, &mut out.sender);
        }
    }

    /// A note of the line that begins, as the pace sees it.
    pub(super) fn note_start(&self, setup: &Setup, now_s: f64, key: Key) -> NoteStart {
        let silence_s = if self.is_silent(now_s) { now_s - self.silent_since_s } else { 0.0 };
        NoteStart {
            now_s,
            key: key.number(),
            silence_s,
            voice_count: setup.patch.notes.voice_count,
            is_last_down: self.notes.is_held(self.note_count),
        }
    }

    /// The note that a note which is struck now would join, unless it belongs to a chord.
    pub fn could_join(&self, setup: &Setup, now_s: f64) -> Option<Note> {
        let join_gap_s = setup.patch.legato.join_gap_s;
        let wait_s = match self.phrase {
            Phrase::Tail => TAIL_JOIN_S.max(join_gap_s),
            _ => join_gap_s,
        };
        let waits = grain(now_s - self.released_s) <= wait_s;
        let joins = self.notes.any_held(now_s) || self.notes.any_sounding(now_s) && waits;
        self.owner.filter(|_| joins)
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
        let passed = self.notes.passed();
        for note in self.notes.iter_mut().filter(|note| note.is_sounding) {
            let is_same = note.is(struck.channel, struck.key);
            let is_left = is_joined && !note.lies_aside(&passed, now_s);
            if is_same || is_tail && !is_joined && !note.lies_aside(&passed, now_s) {
                note.is_sounding = false;
                send_off(note, out);
            } else if is_left {
                note.off_due_s_min = now_s + OVERLAP_S;
                note.off_due_s = note.off_due_s_min;
            }
        }
        self.notes.forget_done();
        self.notes.schedule();
    }

    /// The new note owns the line, or the upper one of a chord.
    fn take_line(&mut self, moment: &Moment, note: Note, beat: Beat, mode: Mode) {
        let in_chord = |note: &Note| self.pace.has_in_chord(note.key.number(), note.on_s);
        let chord_top = self.notes.highest_held(in_chord);
        let owner = if beat.is_chord { chord_top.unwrap_or(note) } else { note };
        if owner.serial != note.serial {
            self.replace_hand(moment.now_s, moment.setup);
            return;
        }
        self.owner = Some(owner);
        self.owned_since_s = moment.now_s;
        let change = if beat.is_chord {
            self.change
        } else if beat.is_grace {
            // The vibrato goes on as the grace left it.
            NoteChange { is_joined: mode != Mode::Fresh, ..self.change }
        } else {
            let (ioi_s, is_trill) = (beat.ioi_s, beat.is_trill);
            NoteChange { ioi_s, is_trill, is_joined: mode != Mode::Fresh, ..self.change }
        };
        self.change_vibrato(moment, change);
    }

    /// The vibrato sees another note begin.
    pub(super) fn change_vibrato(&mut self, moment: &Moment, change: NoteChange) {
        let Some(owner) = self.owner else { return };
        let Moment { setup, now_s, song, .. } = *moment;
        let patch = &setup.patch;
        self.style.wish(&patch.vibrato, owner.wish.and_then(|wish| wish.asked.style));
        let (key, pace_s) = (owner.key.number(), self.pace.pace_s);
        self.is_double_stop_open = self.shares_bend_with_open(setup, owner);
        self.change = NoteChange {
            pace_s,
            is_forced_open: patch.strings.is_forced_open(key),
            is_open: self.is_left_open(setup, owner, pace_s),
            register: self.register(setup, owner.key),
            is_plucked: owner.is_plucked,
            ..change
        };
        let place = match song.is_running {
            true => song_place(song.beat_at(now_s)),
            false => self.note_count,
        };
        self.vibrato.change(&patch.vibrato, now_s, &self.change, place, key);
    }

    /// Another key of the chord came or went: the hand lies elsewhere, the note goes on.
    pub(super) fn replace_hand(&mut self, now_s: f64, setup: &Setup) {
        let Some(owner) = self.owner else { return };
        self.is_double_stop_open = self.shares_bend_with_open(setup, owner);
        self.change.is_open = self.is_left_open(setup, owner, self.change.pace_s);
        let NoteChange { is_open, register, .. } = self.change;
        self.vibrato.onset.place(&setup.patch.vibrato, now_s, is_open, register);
    }

    /// The note is not vibrated: by its string, by a note that shares its bend, or by a wish.
    fn is_left_open(&self, setup: &Setup, owner: Note, pace_s: f64) -> bool {
        setup.patch.strings.is_open(owner.key.number(), pace_s)
            || self.is_double_stop_open
            || self.shares_bend(setup)
            || self.wished_still(setup).is_some()
    }

    /// The owner and a forced-open note of its chord share one bend.
    fn shares_bend_with_open(&self, setup: &Setup, owner: Note) -> bool {
        let strings = &setup.patch.strings;
        let in_chord = |note: &Note| self.pace.has_in_chord(note.key.number(), note.on_s);
        let is_forced = |note: &Note| note.is_held && strings.is_forced_open(note.key.number());
        setup.bends
            && in_chord(&owner)
            && self
                .notes
                .iter()
                .any(|note| in_chord(note) && note.key != owner.key && is_forced(note))
    }

    /// How much the register of a key widens or narrows the vibrato.
    pub(super) fn register(&self, setup: &Setup, key: Key) -> f64 {
        let per_semitone = setup.patch.vibrato.register_per_semitone;
        setup.patch.strings.register(key.number(), self.pace.pace_s, per_semitone)
    }
}

/// The velocity that a note goes out with, of 127.
fn velocity_of(moment: &Moment, velocity: f64, beat: Beat, mode: Mode) -> f64 {
    let Moment { setup, gesture, .. } = *moment;
    let blended = || blended_velocity(&setup.patch.dynamics, velocity, gesture.x);
    match (mode, setup.patch.target.joined_velocity) {
        _ if beat.is_chord => velocity,
        (Mode::Fresh, _) | (_, JoinedVelocity::Blended) => blended(),
        (_, JoinedVelocity::Played) => velocity,
        (_, JoinedVelocity::Speed { slow, fast }) => speed(beat.ioi_s, slow, fast),
    }
}

/// The off of a note as it was played.
pub(super) fn send_off(note: &Note, out: &mut Outlet<'_, impl Sink>) {
    out.sender.note_off(note.channel, note.key, note.off_velocity, Origin::Note(note.tag));
}
