//! Breath and pressure that stop with a note: articulation, not the end of the sound.

use super::ramp::RAMP_S_MIN;
use crate::math::glide::Glide;
use crate::math::grain::{grain, is_reached};

/// A fall to nothing that comes with a note-off: articulation, not the end of the sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreathGap {
    /// When a key was last released.
    pub off_s: f64,
    /// Since when the source is at 0, if it fell there.
    pub zero: Option<f64>,
    /// The gesture of the last ticks, for what it was before the fall.
    recent: [f64; BreathGap::RECENT_TICKS],
    place: usize,
    /// For how many ticks the gesture has not moved.
    level_ticks: usize,
    held: Glide,
}

impl BreathGap {
    /// A fall and a note-off this close belong together.
    const TOGETHER_S: f64 = 0.030;
    const RECENT_TICKS: usize = 32;
    const HOLD_S: f64 = 0.12;
    const RELEASE_S: f64 = 0.060;
    /// No fall and no note-off.
    pub const NONE: BreathGap = BreathGap {
        off_s: f64::NEG_INFINITY,
        zero: None,
        recent: [0.0; BreathGap::RECENT_TICKS],
        place: 0,
        level_ticks: 0,
        held: Glide::still(0.0),
    };

    /// The fall came with a note-off.
    fn is_articulation(&self, zero_s: f64) -> bool {
        grain((self.off_s - zero_s).abs()) <= BreathGap::TOGETHER_S
    }

    /// Nothing waits and nothing is held.
    pub fn is_over(&self, now_s: f64) -> bool {
        self.held.is_done(now_s) && self.zero.is_none()
    }

    /// The gesture has been the same for as long as anyone remembers.
    pub fn is_level(&self) -> bool {
        self.level_ticks >= BreathGap::RECENT_TICKS
    }

    /// Pressure at 0 falls after all: the length of its ramp, once.
    pub fn pressure_falls(&mut self, now_s: f64) -> Option<f64> {
        let zero_s = self.zero?;
        let is_articulation = self.is_articulation(zero_s);
        let wait_s = if is_articulation { BreathGap::HOLD_S } else { BreathGap::TOGETHER_S };
        if !is_reached(now_s, zero_s + wait_s) {
            return None;
        }
        self.zero = None;
        Some(if is_articulation { BreathGap::RELEASE_S } else { RAMP_S_MIN })
    }

    /// The gesture as style and legato see it.
    pub fn manner(&mut self, now_s: f64, x: f64) -> f64 {
        if let Some(zero_s) = self.zero {
            if self.is_articulation(zero_s) {
                let before = self.recent.iter().copied().fold(x, f64::max);
                if !is_reached(now_s, zero_s + BreathGap::HOLD_S) {
                    return before;
                }
                self.held = Glide::still(before);
                self.held.aim(now_s, 0.0, BreathGap::RELEASE_S);
                self.zero = None;
            } else if grain(now_s - zero_s) > BreathGap::TOGETHER_S {
                self.zero = None;
            }
        } else {
            let is_level = self.recent
                [(self.place + BreathGap::RECENT_TICKS - 1) % BreathGap::RECENT_TICKS]
                == x;
            self.level_ticks = if is_level { self.level_ticks + 1 } else { 0 };
            self.recent[self.place] = x;
            self.place = (self.place + 1) % BreathGap::RECENT_TICKS;
        }
        x.max(self.held.at(now_s))
    }
}
