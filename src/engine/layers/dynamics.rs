//! How loud: a position that stands for decibels, with the accent of a fresh note on top.

use crate::math::clock::TICK_S;
use crate::patch::DynamicsPatch;
use crate::patch::setup::{SLEW_PER_S, Setup};
use crate::reason::Reason;

/// How an accent dies away.
const ACCENT_S: f64 = 0.12;
/// e^(−1 ms / 0.12 s).
const ACCENT_FALL: f64 = 0.991_701_292_638_876;
/// Below this an accent is over: less than a seventh of a 14-bit step.
const ACCENT_MIN: f64 = 1e-5;
/// Velocities of 127 up to this carry no accent.
const ACCENT_VELOCITY_MIN: f64 = 64.0;

/// The level. While it can keep up with the gesture, it is worked out only when somebody asks; an
/// accent or a leap of the gesture makes it move from tick to tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dynamics {
    gesture: f64,
    plain: f64,
    accent: f64,
    accent_start_s: Option<f64>,
    level: f64,
    /// The level stands where the gesture points: no accent, nothing to catch up.
    is_following: bool,
    /// It follows, but has not been worked out for the present gesture.
    is_stale: bool,
}

impl Dynamics {
    /// The level of a gesture at rest.
    pub fn at(patch: &DynamicsPatch, gesture: f64) -> Dynamics {
        let mut dynamics = Dynamics {
            gesture,
            plain: 0.0,
            accent: 0.0,
            accent_start_s: None,
            level: 0.0,
            is_following: true,
            is_stale: false,
        };
        dynamics.jump(patch, gesture);
        dynamics
    }

    /// Floor or ceiling have been turned; the level moves there at its own speed.
    pub fn turn(&mut self, patch: &DynamicsPatch) {
        self.follow(patch, self.gesture);
        self.is_following = self.has_arrived();
    }

    /// Takes the level of a gesture at once.
    pub fn jump(&mut self, patch: &DynamicsPatch, gesture: f64) {
        self.follow(patch, gesture);
        self.level = self.goal();
        self.is_stale = false;
        self.is_following = self.has_arrived();
    }

    /// Works out the level of the gesture that it has followed so far.
    #[inline]
    pub fn catch_up(&mut self, patch: &DynamicsPatch) {
        if self.is_stale {
            self.follow(patch, self.gesture);
            self.level = self.plain;
            self.is_stale = false;
        }
    }

    /// A fresh note, its velocity of 127: its accent, at once. A later note of a chord only adds
    /// to it.
    pub fn strike(
        &mut self,
        patch: &DynamicsPatch,
        now_s: f64,
        velocity: f64,
        is_chord: bool,
        gesture: f64,
    ) {
        let hardness = (velocity - ACCENT_VELOCITY_MIN) / (127.0 - ACCENT_VELOCITY_MIN);
        let accent = patch.accent * hardness.max(0.0);
        if !is_chord || accent > self.accent {
            self.accent = accent;
            self.accent_start_s = Some(now_s);
        }
        self.jump(patch, gesture);
    }

    /// One tick.
    #[inline(always)]
    pub fn tick(&mut self, setup: &Setup, now_s: f64, gesture: f64) {
        let keeps_up = (gesture - self.gesture).abs() <= setup.level_step_max;
        if !self.is_following || !keeps_up {
            self.move_on(&setup.patch.dynamics, now_s, gesture);
        } else if gesture != self.gesture {
            self.gesture = gesture;
            self.is_stale = true;
        }
    }

    fn move_on(&mut self, patch: &DynamicsPatch, now_s: f64, gesture: f64) {
        self.catch_up(patch);
        if gesture != self.gesture {
            self.follow(patch, gesture);
        }
        if let Some(start_s) = self.accent_start_s.take() {
            self.accent *= libm::exp(-(now_s - start_s).max(0.0) / ACCENT_S);
        } else if self.accent > 0.0 {
            self.accent *= ACCENT_FALL;
            if self.accent < ACCENT_MIN {
                self.accent = 0.0;
            }
        }
        let slew = SLEW_PER_S * TICK_S;
        self.level += (self.goal() - self.level).clamp(-slew, slew);
        self.is_following = self.has_arrived();
    }

    fn has_arrived(&self) -> bool {
        self.accent == 0.0 && self.level == self.plain
    }

    /// Another tick would change nothing.
    pub fn is_settled(&self, gesture: f64) -> bool {
        gesture == self.gesture && self.is_following
    }

    /// The present level, 0..=1.
    #[inline]
    pub fn level(&self, patch: &DynamicsPatch) -> f64 {
        if self.is_stale { plain_level(patch, self.gesture) } else { self.level }
    }

    #[inline]
    fn follow(&mut self, patch: &DynamicsPatch, gesture: f64) {
        self.gesture = gesture;
        self.plain = plain_level(patch, gesture);
    }

    #[inline]
    fn goal(&self) -> f64 {
        (self.plain + self.accent).clamp(0.0, 1.0)
    }
}

/// Velocity of a note, of 127: partly as struck, partly the level without accent and slew.
pub fn blended_velocity(patch: &DynamicsPatch, velocity: f64, gesture: f64) -> f64 {
    let share = patch.velocity_share;
    (1.0 - share) * velocity + share * (1.0 + 126.0 * plain_level(patch, gesture))
}

/// The level of a gesture without accent and slew, 0..=1.
#[inline]
pub fn plain_level(patch: &DynamicsPatch, gesture: f64) -> f64 {
    unlimited_level(patch, gesture).clamp(0.0, 1.0)
}

/// The same as far as it is asked for, which may be further than there is room.
#[inline]
fn unlimited_level(patch: &DynamicsPatch, gesture: f64) -> f64 {
    let share = patch.curve.at(gesture).clamp(0.0, 1.0);
    patch.floor + (patch.ceiling - patch.floor) * share + patch.shift
}

/// Why a level is not as loud or as soft as a retouch asks for.
pub fn why_limited(patch: &DynamicsPatch, gesture: f64) -> Option<Reason> {
    let level = unlimited_level(patch, gesture);
    match patch.shift {
        shift if shift > 0.0 && level > 1.0 => Some(Reason::LoudestAlready),
        shift if shift < 0.0 && level < 0.0 => Some(Reason::SoftestAlready),
        _ => None,
    }
}
