//! How the phrase ends: the drawn-out end, the ambience, and a niente that stands until then.

use super::niente::Niente;
use crate::gesture::conditioning::GestureNow;
use crate::math::fast_math::{amplitude, decibels};
use crate::math::glide::Glide;
use crate::math::grain::is_reached;
use crate::patch::TailPatch;

/// A last note must be this long to be drawn out, in any surroundings.
const LONG_S_MIN: f64 = 0.45;
/// A last note of this length is drawn out in any surroundings.
const LONG_S_MAX: f64 = 1.0;
/// A last note this much longer than the pace is long.
const LONG_PACES: f64 = 1.5;
/// A note this much longer than the shortest long one gets the whole tail.
const WHOLE_S: f64 = 0.8;
/// The least of the tail that a drawn-out note gets.
const SHARE_MIN: f64 = 0.3;
/// The expression comes back over this time when a note joins or the tail is forgotten.
const BACK_S: f64 = 0.040;
/// How long after the off the expression stays down.
const STAY_S: f64 = 0.25;
/// The ambience rises, is held after the off, and falls, or falls fast under a new note.
const LIFT_S: f64 = 0.15;
const LIFT_HOLD_S: f64 = 0.4;
const LIFT_FALL_S: f64 = 1.2;
const LIFT_DROP_S: f64 = 0.080;

/// Expression and ambience.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tail {
    /// The part of the expression that goes to nothing and back.
    pub niente: Niente,
    /// The part that falls in a tail, decibels.
    fall_db: Glide,
    send: Glide,
    off_s: Option<f64>,
}

impl Tail {
    /// Full expression, no ambience.
    pub const FULL: Tail = Tail {
        niente: Niente::FULL,
        fall_db: Glide::still(0.0),
        send: Glide::still(0.0),
        off_s: None,
    };

    /// The last note is let go and drawn out over `length_s`.
    pub fn begin(&mut self, patch: &TailPatch, now_s: f64, length_s: f64) {
        self.fall_db.aim(now_s, -patch.tail_db, length_s);
        self.send.aim(now_s, 1.0, LIFT_S);
    }

    /// The last off has gone out.
    pub fn off(&mut self, now_s: f64) {
        self.off_s = Some(now_s);
    }

    /// A fresh note: the expression is full, or as soft as the gesture asks for where it may.
    pub fn fresh(&mut self, now_s: f64, gesture: &GestureNow, niente_is_open: bool) {
        self.niente.fresh(now_s, gesture, niente_is_open);
        self.fall_db = Glide::still(0.0);
        self.drop_send(now_s);
    }

    /// A note that joins, perhaps in the tail of the one before.
    pub fn join(&mut self, now_s: f64) {
        if self.fall_db.goal() != 0.0 {
            self.fall_db.aim(now_s, 0.0, BACK_S);
        }
        self.drop_send(now_s);
    }

    /// The expression is full again, whatever it was doing.
    pub fn restore(&mut self) {
        self.niente.restore();
        self.fall_db = Glide::still(0.0);
    }

    fn drop_send(&mut self, now_s: f64) {
        self.off_s = None;
        if self.send.goal() != 0.0 || !self.send.is_done(now_s) {
            self.send.aim(now_s, 0.0, LIFT_DROP_S);
        }
    }

    /// One tick.
    #[inline(always)]
    pub fn tick(&mut self, now_s: f64, gesture: &GestureNow, is_held: bool, niente_is_open: bool) {
        if let Some(off_s) = self.off_s {
            self.after_off(now_s, off_s);
        }
        self.niente.tick(now_s, gesture, is_held, niente_is_open);
    }

    /// The expression stays down for a while, then everything returns to rest.
    fn after_off(&mut self, now_s: f64, off_s: f64) {
        if is_reached(now_s, off_s + STAY_S) {
            if self.fall_db.goal() != 0.0 {
                self.fall_db.aim(now_s, 0.0, BACK_S);
            }
            self.niente.back(now_s, BACK_S);
        }
        if is_reached(now_s, off_s + LIFT_HOLD_S) {
            if self.send.goal() != 0.0 {
                self.send.aim(now_s, 0.0, LIFT_FALL_S);
            }
            self.off_s = None;
        }
    }

    /// Another tick would change nothing, as long as the gesture stands.
    pub fn is_settled(
        &self,
        now_s: f64,
        gesture: &GestureNow,
        is_held: bool,
        niente_is_open: bool,
    ) -> bool {
        self.off_s.is_none()
            && self.fall_db.is_done(now_s)
            && self.send.is_done(now_s)
            && self.niente.is_settled(now_s, gesture, is_held, niente_is_open)
    }

    /// The expression falls, or has fallen: its decibels and its amplitude beside them.
    #[inline]
    pub fn expression(&self, now_s: f64) -> Expression {
        Expression { amplitude: self.niente.at(now_s), fall_db: self.fall_db.at(now_s) }
    }

    /// Where the expression goes, as far as the hand goes on to this gesture.
    pub fn expression_ahead(&self, gesture: f64) -> Expression {
        Expression { amplitude: self.niente.ahead(gesture), fall_db: self.fall_db.goal() }
    }

    /// The ambience lift, share of the send's range.
    #[inline]
    pub fn send(&self, patch: &TailPatch, now_s: f64) -> f64 {
        patch.lift * self.send.at(now_s)
    }
}

/// How long the off of a last note waits, if it is long enough to be drawn out.
pub fn length_s(patch: &TailPatch, age_s: f64, pace_s: f64) -> Option<f64> {
    let long_s = (LONG_PACES * pace_s).clamp(LONG_S_MIN, LONG_S_MAX);
    let share = ((age_s - LONG_S_MIN) / WHOLE_S).clamp(SHARE_MIN, 1.0);
    (age_s >= long_s && patch.tail_s > 0.0).then_some(patch.tail_s * share)
}

/// An amplitude 0..=1 and decibels (not above 0) under it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expression {
    /// Niente: 0..=1.
    pub amplitude: f64,
    /// The tail: 0 or below.
    pub fall_db: f64,
}

impl Expression {
    /// The whole in decibels; minus infinity at nothing.
    pub fn db(self) -> f64 {
        if self.amplitude == 1.0 {
            return self.fall_db;
        }
        decibels(self.amplitude) + self.fall_db
    }

    /// The whole as an amplitude, 0..=1.
    pub fn whole(self) -> f64 {
        if self.fall_db == 0.0 {
            return self.amplitude;
        }
        self.amplitude * amplitude(self.fall_db)
    }
}
