//! How a vibrato unfolds in time: the ear brings its middle to the note, and a long one swells and ebbs.

use crate::math::glide::smooth_step;
use crate::patch::VibratoPatch;

/// The width rises over this time and ebbs over the next one, to as far under the whole as it was
/// above (in long erhu notes of Yang, Rajab & Chew 2017 it is widest at 64 % of the note).
const RISE_S: f64 = 1.0;
const EBB_S: f64 = 2.5;
/// A gesture that moves faster shapes the width itself, and the arch gives way within this time.
const MOVING_PER_S: f64 = 0.05;
const YIELD_S: f64 = 0.5;

/// Since when a vibrato sounds, and how much its arch counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unfolding {
    /// When the vibrato began; a slur that keeps some of it goes on.
    began_s: f64,
    /// How far the arch is from giving way, 0..=1.
    arch_share: f64,
}

impl Unfolding {
    /// No vibrato yet.
    pub const NONE: Unfolding = Unfolding { began_s: 0.0, arch_share: 1.0 };

    /// A vibrato begins.
    pub fn begin(&mut self, now_s: f64) {
        *self = Unfolding { began_s: now_s, ..Unfolding::NONE };
    }

    /// One step, over which the gesture has moved so far.
    #[inline]
    pub fn step(&mut self, patch: &VibratoPatch, step_s: f64, moved: f64) {
        if patch.arch == 0.0 {
            return;
        }
        let is_moving = moved.abs() > MOVING_PER_S * step_s;
        let step = step_s / YIELD_S;
        let share = if is_moving { self.arch_share - step } else { self.arch_share + step };
        self.arch_share = share.clamp(0.0, 1.0);
    }

    /// The factor of the width; exactly 1 without imperfection.
    #[inline]
    pub fn arch(&self, patch: &VibratoPatch, now_s: f64) -> f64 {
        if patch.arch == 0.0 || self.arch_share == 0.0 {
            return 1.0;
        }
        let age_s = now_s - self.began_s;
        let risen = smooth_step(age_s / RISE_S) - 2.0 * smooth_step((age_s - RISE_S) / EBB_S);
        1.0 + patch.arch * smooth_step(self.arch_share) * risen
    }

    /// How much of the correction of the pitch has been made, 0..=1.
    #[inline]
    pub fn settled(&self, patch: &VibratoPatch, now_s: f64) -> f64 {
        let age_s = now_s - self.began_s;
        if age_s >= patch.settle_s { 1.0 } else { smooth_step(age_s / patch.settle_s) }
    }
}
