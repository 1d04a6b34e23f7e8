//! How a note leaves the one before: by bend, by portamento or by a jump, what it cuts, and what is struck again.

use super::note_on::{OVERLAP_S, send_off};
use super::{Line, Moment};
use crate::layers::legato::Join;
use crate::layers::onset::NoteChange;
use crate::layers::transition::{Transition, time_s};
use crate::math::grain::grain;
use crate::mode::Mode;
use crate::notes::held::Note;
use crate::output::Sink;
use crate::output::outlet::Outlet;
use crate::output::portamento::PortamentoNote;
use crate::patch::TransitionWay;
use crate::patch::setup::Setup;
use crate::reason::Reason;

/// A key this old that shares no string with the next one may be a drone.
const OLD_S: f64 = 1.0;

/// What a joined note makes of the one that it leaves.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leaving {
    /// The note that ends with this one's beginning.
    pub cut: Option<u64>,
    /// What a receiver's portamento hears of it.
    pub glide: PortamentoNote,
}

/// How the pitch goes.
enum Way {
    /// From so many cents off the new note, within the seconds.
    Bend(f64, f64),
    /// By the receiver's portamento.
    Portamento(f64),
    /// At once, or as the receiver makes it.
    Jump,
}

impl Line {
    /// The pitch sets out from `left` for `note`, which has just been struck and joins it. Without
    /// a note to leave, or with a fresh one, the line stands on its note at once.
    pub(super) fn set_out(
        &mut self,
        moment: &Moment,
        left: Option<Note>,
        note: &Note,
        mode: Mode,
    ) -> Leaving {
        let Moment { setup, now_s, .. } = *moment;
        let Some(left) = left.filter(|_| mode != Mode::Fresh) else {
            let cut_short = self.transition.is_on(now_s);
            self.transition_reason = if cut_short { Reason::JoinEnded } else { Reason::NotJoined };
            self.transition = Line::carried(moment);
            return Leaving { cut: None, glide: PortamentoNote::NONE };
        };
        let may_stay = self.may_be_drone(setup, now_s, &left, note);
        let is_alone = !may_stay && !self.is_in_company && !self.others_are_meant(&left, note);
        self.notes.mark_left(left.serial, !may_stay);
        let (way, reason) = self.way(moment, &left, note, mode, may_stay);
        self.transition_reason = reason;
        self.transition = match way {
            Way::Bend(from_cents, time_s) => Transition::begin(now_s, from_cents, time_s),
            _ => Line::carried(moment),
        };
        let transition = &setup.patch.target.transition;
        let cuts = match way {
            _ if !moment.may_cut => false,
            Way::Bend(..) => true,
            Way::Portamento(_) => false,
            Way::Jump => transition.cuts_jumps && !may_stay,
        };
        let time_s = if let Way::Portamento(time_s) = way { Some(time_s) } else { None };
        let glide = PortamentoNote { time_s, is_alone };
        Leaving { cut: cuts.then_some(left.serial), glide }
    }

    /// The way from a note to the next, and why.
    fn way(
        &self,
        moment: &Moment,
        left: &Note,
        note: &Note,
        mode: Mode,
        may_stay: bool,
    ) -> (Way, Reason) {
        let Moment { setup, now_s, .. } = *moment;
        let way = setup.patch.target.transition.way;
        match way {
            TransitionWay::None => return (Way::Jump, Reason::NoTransition),
            TransitionWay::Receiver => return (Way::Jump, Reason::ReceiverJoins),
            TransitionWay::Bend if !setup.bends => return (Way::Jump, Reason::NoTransition),
            TransitionWay::Bend if !moment.may_cut || self.shares_channel(left, note) => {
                return (Way::Jump, Reason::OthersSound);
            }
            _ if may_stay => return (Way::Jump, Reason::MayBeDrone),
            TransitionWay::Bend | TransitionWay::Portamento => {}
        }
        let (from, to) = (left.key.number(), note.key.number());
        let interval = from.abs_diff(to);
        let why_quick = why_quick(setup, from, to, self.pace.pace_s);
        let mode = if why_quick.is_some() { Mode::Quick } else { mode };
        let time_s = time_s(mode, interval);
        if way == TransitionWay::Portamento {
            return match (mode, why_quick) {
                (Mode::Quick, why) => (Way::Jump, why.unwrap_or(Reason::QuickJump)),
                _ => (Way::Portamento(time_s), Reason::ByPortamento),
            };
        }
        let range_cents = 100.0 * setup.patch.target.bend_range_semitones;
        let interval_cents = 100.0 * (f64::from(from) - f64::from(to));
        // An unfinished transition leaves the line beside the old note.
        let off_cents = interval_cents + self.transition.cents(now_s);
        let from_cents = off_cents.clamp(-range_cents, range_cents);
        let reason = match mode {
            _ if interval_cents.abs() <= range_cents => why_quick.unwrap_or(Reason::ByBend),
            Mode::Slide => Reason::Scoop,
            _ => return (Way::Jump, Reason::WiderThanBend),
        };
        (Way::Bend(from_cents, time_s), reason)
    }

    /// It is old and no string is common to both: the two may be meant to sound together. A key
    /// that only sounds open lies on its own string.
    fn may_be_drone(&self, setup: &Setup, now_s: f64, left: &Note, note: &Note) -> bool {
        let strings = &setup.patch.strings;
        let (from, to) = (left.key.number(), note.key.number());
        strings.count > 0
            && grain(now_s - left.on_s) >= OLD_S
            && strings.travel_m(from, to, self.pace.pace_s).is_none()
            && !strings.share_open_string(from, to)
    }

    /// A key besides the two sounds where the new one does, or the pedal holds what has been left.
    fn shares_channel(&self, left: &Note, note: &Note) -> bool {
        let is_other = |it: &Note| is_other(it, left, note);
        self.is_pedal_down
            || self.is_in_company
            || self
                .notes
                .iter()
                .any(|it| is_other(it) && it.is_sounding && it.channel == note.channel)
    }

    /// A key besides the two is meant to sound: it is down, and no join has left it.
    fn others_are_meant(&self, left: &Note, note: &Note) -> bool {
        let is_other = |it: &Note| is_other(it, left, note);
        self.notes.iter().any(|it| is_other(it) && it.is_sounding && !it.is_left)
    }

    /// The note that was left ends with the new one's beginning, whatever the finger does.
    pub(super) fn cut(&mut self, serial: Option<u64>, out: &mut Outlet<'_, impl Sink>) {
        let Some(serial) = serial else { return };
        if let Some(note) = self.notes.cut(serial) {
            send_off(&note, out);
        }
    }

    /// The owner has lifted over a key that was cut and is still down: it is struck again, as hard
    /// as before, and joins the note that lifted.
    pub(super) fn strike_again(
        &mut self,
        moment: &Moment,
        lifted: Note,
        again: Note,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let Moment { setup, gesture, now_s, .. } = *moment;
        let patch = &setup.patch;
        let key = again.key.number();
        let beat = self.pace.strike_again(now_s, key);
        let from_key = Some(lifted.key.number());
        let join = Join {
            from_key,
            is_plucked: again.is_plucked,
            key,
            beat,
            pace_s: self.pace.pace_s,
            gesture: gesture.manner,
            has_moved: gesture.is_known,
            wish: moment.stretch_wish().legato,
        };
        let mode = self.legato.decide(&patch.legato, &patch.strings, &join);
        let again = self.notes.sound_again(&again, now_s);
        self.notes.overlap(lifted.serial, now_s + OVERLAP_S);
        let leaving = self.set_out(moment, Some(lifted), &again, mode);
        self.transition_reason = Reason::StruckAgain;
        self.style.latch(&patch.vibrato);
        self.tail.join(now_s);
        let ioi_s = now_s - self.owned_since_s;
        (self.owner, self.owned_since_s) = (Some(again), now_s);
        let is_trill = beat.is_trill;
        self.change_vibrato(moment, NoteChange { ioi_s, is_trill, is_joined: true, ..self.change });

        let manner = self.manner(mode, from_key, moment.articulation, leaving.glide);
        self.sound(moment, &again, (manner, f64::from(again.velocity)), out);
        self.cut(leaving.cut, out);
    }
}

/// A note of the line that is neither of the two.
fn is_other(it: &Note, left: &Note, note: &Note) -> bool {
    it.serial != left.serial && it.serial != note.serial && !it.is_foreign
}

/// Why a join is as quick as the fingers go, whatever its mode.
fn why_quick(setup: &Setup, from: u8, to: u8, pace_s: f64) -> Option<Reason> {
    let (strings, legato) = (&setup.patch.strings, &setup.patch.legato);
    if strings.count == 0 {
        let is_wide = from.abs_diff(to) > legato.slide_max_semitones;
        return is_wide.then_some(Reason::QuickBeyondSlide);
    }
    strings.travel_m(from, to, pace_s).is_none().then_some(Reason::QuickOverStrings)
}
