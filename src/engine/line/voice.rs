//! One of several voices of a channel: who may go on from its key, and what it shares with the others.

use super::note_on::{OVERLAP_S, Struck, send_off};
use super::{Line, Moment};
use crate::input::{Channel, Key};
use crate::layers::transition::Transition;
use crate::math::grain::grain;
use crate::notes::held::Note;
use crate::notes::pace::CHORD_S;
use crate::output::Sink;
use crate::output::outlet::Outlet;
use crate::patch::setup::Setup;
use crate::phrase::Phrase;
use crate::reason::Reason;

/// A voice that goes on alone from a note in mid-join arrives within this time once others sound.
const HASTE_S: f64 = 0.025;

impl Line {
    /// The note that a new key may go on from: the line's own, struck more than 35 ms ago, that is
    /// held or was released no longer ago than that.
    pub fn joinable(&self, now_s: f64) -> Option<Note> {
        let owner = self.owner.filter(|owner| grain(now_s - owner.on_s) > CHORD_S)?;
        // Another voice has gone on from it already.
        let is_over = self.tail_reason == Reason::WentOn;
        let is_fresh = !is_over && grain(now_s - self.released_s) <= CHORD_S;
        (self.notes.is_held(owner.serial) || is_fresh).then_some(owner)
    }

    /// The key that owns the line, or owned it last.
    pub fn last_key(&self) -> Option<Key> {
        self.owner.map(|owner| owner.key)
    }

    /// When that key was struck.
    pub fn last_on_s(&self) -> f64 {
        self.owner.map_or(f64::NEG_INFINITY, |owner| owner.on_s)
    }

    /// The key that owns the line is down.
    pub fn is_owner_held(&self) -> bool {
        self.owner.is_some_and(|owner| self.notes.is_held(owner.serial))
    }

    /// Where the phrase stands.
    pub fn phrase(&self) -> Phrase {
        self.phrase
    }

    /// Which voice it is, from 0.
    pub fn number(&self) -> u8 {
        self.number
    }

    /// It has this number from now on, and that player's vibrato.
    pub fn rename(&mut self, setup: &Setup, number: u8) {
        if self.number != number {
            self.number = number;
            self.vibrato.rename(setup, number);
        }
    }

    /// This line, which is at rest, goes on where `left` stands; `left` keeps its key, which is no
    /// longer meant to sound.
    pub fn go_on_from(&mut self, now_s: f64, left: &mut Line) -> Option<Note> {
        let note = left.owner?;
        let Line { channel, notes, wishes, stolen_notes, .. } = *self;
        *self = Line { channel, notes, wishes, stolen_notes, ..*left };
        left.notes.overlap(note.serial, now_s + OVERLAP_S);
        left.notes.mark_left(note.serial, true);
        Some(note)
    }

    /// A key is struck that may join this note, of whichever line it is.
    pub fn note_on_from(
        &mut self,
        moment: &Moment,
        struck: Struck,
        left: Option<Note>,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let beat = self.pace.strike(&self.note_start(moment.setup, moment.now_s, struck.key));
        self.begin(moment, struck, (beat, left), out);
    }

    /// A key beyond the number of voices sounds with the line as it was played.
    pub fn sound_along(
        &mut self,
        moment: &Moment,
        struck: Struck,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        self.pass_on(moment.now_s, struck, out);
    }

    /// Others sound on its channel, or no longer do: the bend is theirs too.
    pub fn keep_company(&mut self, setup: &Setup, now_s: f64, is_in_company: bool) {
        if self.is_in_company == is_in_company {
            return;
        }
        self.is_in_company = is_in_company;
        if is_in_company {
            self.transition.hasten(now_s, HASTE_S);
        }
        if self.phrase != Phrase::Rest {
            self.replace_hand(now_s, setup);
        }
    }

    /// How far its pitch is from its note, cents, without the player's bend.
    pub fn off_cents(&self, setup: &Setup, now_s: f64) -> f64 {
        self.swing_cents(setup) + self.transition.cents(now_s)
    }

    /// How far its vibrato alone is from its note, cents.
    pub fn swing_cents(&self, setup: &Setup) -> f64 {
        self.vibrato.pitch_cents(&setup.patch.vibrato)
    }

    /// A bend that was another's goes home under this line's note.
    pub(super) fn carried(moment: &Moment) -> Transition {
        match moment.carried_cents {
            0.0 => Transition::NONE,
            from_cents => Transition::home(moment.now_s, from_cents, HASTE_S),
        }
    }

    /// Its bend would move other voices.
    pub(super) fn shares_bend(&self, setup: &Setup) -> bool {
        self.is_in_company && setup.bends
    }

    /// Another voice has been told where they all sound, and what the first note after a jump tells.
    pub fn follow(&mut self, channel: Channel) {
        self.channel = channel;
        (self.awaits_first, self.has_news) = (false, false);
    }

    /// A key that another voice strikes on the same channel ends here.
    pub fn end_key(&mut self, channel: Channel, key: Key, out: &mut Outlet<'_, impl Sink>) {
        self.end_those(|note| !note.is_held && note.is(channel, key), out);
    }

    /// A drawn-out end is over: a new note brings the full expression back.
    pub fn end_tail(&mut self, setup: &Setup, now_s: f64, out: &mut Outlet<'_, impl Sink>) {
        if self.phrase == Phrase::Tail {
            self.end_those(|note| !note.is_held, out);
            self.fall_silent(setup, now_s);
        }
    }

    fn end_those(&mut self, ends: impl Fn(&Note) -> bool, out: &mut Outlet<'_, impl Sink>) {
        for note in self.notes.iter_mut().filter(|note| note.is_sounding && ends(note)) {
            note.is_sounding = false;
            send_off(note, out);
        }
        self.notes.forget_done();
        self.notes.schedule();
    }
}
