//! Out of nothing and into nothing: a hand that is nearly at rest takes the sound with it.

use crate::gesture::conditioning::GestureNow;
use crate::math::fast_math::amplitude;
use crate::math::glide::Glide;
use crate::math::grain::is_reached;

/// From this gesture on the expression is full.
pub const FULL: f64 = 0.10;
/// The gesture at which it is softest, and how long it stands there before nothing sounds.
const NOTHING: f64 = 0.02;
const WAIT_S: f64 = 0.15;
/// What is followed where nothing sounds.
const SILENT: f64 = -1.0;
/// The softest before silence. Between the two it falls evenly in decibels, with the gesture.
const SOFTEST_DB: f64 = -48.0;
/// 1.5 dB in 10 ms: how fast it moves where no gesture asked for it (a first value, other settings).
const UNASKED_DB_PER_TICK: f64 = 0.15;

/// The part of the expression that goes to nothing and back, an amplitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Niente {
    /// Where it stands while it does not follow the gesture.
    level: Glide,
    /// The gesture that it follows, worked out when somebody asks; full from [`FULL`] on and nothing
    /// below 0. `None` while it does not follow.
    followed: Option<f64>,
    /// Since when the gesture stands at or below [`NOTHING`]; infinite if it does not.
    low_since_s: f64,
    /// It followed the gesture at the last step.
    is_on: bool,
    /// It is on its way to where it would be by something that no gesture asked for.
    is_limited: bool,
    /// Full under a gesture not below [`FULL`], and nothing waits: while it stays there no step is
    /// needed.
    is_full: bool,
}

impl Niente {
    /// Full.
    pub const FULL: Niente = Niente {
        level: Glide::still(1.0),
        followed: None,
        low_since_s: f64::INFINITY,
        is_on: false,
        is_limited: false,
        is_full: true,
    };

    /// A hand that counts as settled where it stands, at or below nothing for long.
    pub fn settle(&mut self, gesture: &GestureNow) {
        self.low_since_s = if is_low(gesture) { f64::NEG_INFINITY } else { f64::INFINITY };
        self.is_full = false;
    }

    /// A fresh note begins with the value of its moment.
    pub fn fresh(&mut self, now_s: f64, gesture: &GestureNow, is_open: bool) {
        self.is_on = is_open && gesture.is_known;
        self.is_limited = false;
        self.followed = Some(self.goal(now_s, gesture.x));
        self.is_full = false;
    }

    /// Full at once, by no wish of the hand.
    pub fn restore(&mut self) {
        *self = Niente { is_on: self.is_on, ..Niente::FULL };
        self.limit();
    }

    /// What comes next is asked by no gesture.
    pub fn limit(&mut self) {
        (self.is_limited, self.is_full) = (true, false);
    }

    /// Full again over this time.
    pub fn back(&mut self, now_s: f64, length_s: f64) {
        self.stand(now_s);
        if self.level.goal() != 1.0 {
            self.level.aim(now_s, 1.0, length_s);
        }
    }

    /// One tick. It follows the gesture while a key is held, if it is open; else it stands.
    #[inline(always)]
    pub fn tick(&mut self, now_s: f64, gesture: &GestureNow, is_held: bool, is_open: bool) {
        if gesture.x < FULL || !self.is_full {
            self.step(now_s, gesture, is_held, is_open && gesture.is_known);
        }
    }

    #[inline(never)]
    fn step(&mut self, now_s: f64, gesture: &GestureNow, is_held: bool, is_on: bool) {
        let low_s = if is_low(gesture) { now_s } else { f64::INFINITY };
        self.low_since_s = if is_low(gesture) { self.low_since_s.min(low_s) } else { low_s };
        if is_on != self.is_on {
            // Where the gesture has just come from above, it asks.
            (self.is_on, self.is_limited) = (is_on, !self.is_full);
        }
        if !is_held {
            self.stand(now_s);
        } else if self.is_limited {
            let goal = amplitude_of(self.goal(now_s, gesture.x));
            let level = self.towards(now_s, goal);
            self.is_limited = level != goal;
            (self.level, self.followed) = (Glide::still(level), None);
        } else {
            self.followed = Some(self.goal(now_s, gesture.x));
        }
        let is_still = match self.followed {
            Some(gesture) => gesture >= FULL,
            None => self.level.goal() == 1.0 && self.level.is_done(now_s),
        };
        self.is_full = is_still && !self.is_limited && gesture.x >= FULL;
    }

    /// It stands where it is, and follows no longer.
    fn stand(&mut self, now_s: f64) {
        if self.followed.is_some() {
            (self.level, self.followed) = (Glide::still(self.at(now_s)), None);
        }
    }

    /// The gesture that says where it is to be: [`FULL`] or above, or below 0 for silence.
    fn goal(&self, now_s: f64, x: f64) -> f64 {
        if !self.is_on || x >= FULL {
            FULL
        } else if is_reached(now_s, self.low_since_s + WAIT_S) {
            SILENT
        } else {
            x.max(NOTHING)
        }
    }

    /// A tick on towards `goal`; silence lies beyond the softest.
    fn towards(&self, now_s: f64, goal: f64) -> f64 {
        let softest = amplitude(SOFTEST_DB);
        let level = self.at(now_s);
        if goal >= level {
            (level.max(softest) * amplitude(UNASKED_DB_PER_TICK)).min(goal)
        } else if level <= softest {
            goal
        } else {
            (level * amplitude(-UNASKED_DB_PER_TICK)).max(goal.max(softest))
        }
    }

    /// Another tick would change nothing, as long as the gesture stands.
    pub fn is_settled(
        &self,
        now_s: f64,
        gesture: &GestureNow,
        is_held: bool,
        is_open: bool,
    ) -> bool {
        if self.is_full && gesture.x >= FULL {
            return true;
        }
        let waits = match is_low(gesture) {
            true => !is_reached(now_s, self.low_since_s + WAIT_S),
            false => self.low_since_s != f64::INFINITY,
        };
        let stands = match self.followed {
            Some(followed) => is_held && followed == self.goal(now_s, gesture.x),
            None => !is_held && self.level.is_done(now_s),
        };
        let is_on = is_open && gesture.is_known;
        self.is_on == is_on && !waits && stands
    }

    /// The amplitude that it is on its way to, as far as the hand goes on to this gesture.
    pub fn ahead(&self, gesture: f64) -> f64 {
        match self.followed {
            Some(SILENT) => 0.0,
            Some(_) if self.is_on => amplitude_of(gesture.max(NOTHING)),
            Some(_) => 1.0,
            None => self.level.goal(),
        }
    }

    /// The amplitude, 0..=1.
    #[inline]
    pub fn at(&self, now_s: f64) -> f64 {
        self.followed.map_or_else(|| self.level.at(now_s), amplitude_of)
    }
}

/// The amplitude of a gesture that is followed.
fn amplitude_of(gesture: f64) -> f64 {
    if gesture >= FULL {
        return 1.0;
    }
    let share = (FULL - gesture) * (1.0 / (FULL - NOTHING));
    if gesture < 0.0 { 0.0 } else { amplitude(SOFTEST_DB * share) }
}

fn is_low(gesture: &GestureNow) -> bool {
    gesture.is_known && gesture.x <= NOTHING
}
