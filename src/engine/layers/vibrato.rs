//! The swing of the pitch: how wide, how fast and which way, with one oscillator for the line.

use core::f64::consts::{PI, TAU};

use super::onset::{NoteChange, Onset};
use super::style::{Style, Weights};
use crate::math::chance::{Chance, Stray};
use crate::math::fast_math::{power, sine_of_turn};
use crate::patch::setup::Setup;
use crate::patch::{FirstMovement, StylePatch, VibratoPatch};

/// The fastest change of the rate, Hz a second.
const RATE_SLEW_PER_S: f64 = 3.0;

/// The styles blended at one gesture: rate, share, sharpness and level swing weighted by width.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Blend {
    width_cents: f64,
    rate_hz: f64,
    share_above: f64,
    sharpness: f64,
    level_swing_db: f64,
    /// Mean of the swing over a cycle, share of the width, times the patch's `centre`.
    offset: f64,
}

/// The vibrato of one line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vibrato {
    /// When it begins and how it grows.
    pub onset: Onset,
    blend: Blend,
    blended_at: f64,
    blended_moves: u32,
    rate_hz: f64,
    is_swinging: bool,
    /// Where on the sine's own cycle a cycle begins, turns.
    start_turn: f64,
    /// Share of the present cycle, 0..1.
    turn: f64,
    chance: Chance,
    cycle: u32,
    rate_stray: Stray,
    width_stray: Stray,
    factor: f64,
    /// When the last step was.
    stepped_s: f64,
}

/// The swing at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// Width as performed, cents peak to peak.
    pub width_cents: f64,
    /// Rate, Hz, before unevenness.
    pub rate_hz: f64,
    /// Distance from the note, cents.
    pub pitch_cents: f64,
}

impl Vibrato {
    /// No vibrato yet on the line of this number.
    pub fn at(setup: &Setup, line: u8, gesture: f64, weights: &Weights) -> Vibrato {
        let mut vibrato = Vibrato {
            onset: Onset::NONE,
            blend: Blend {
                width_cents: 0.0,
                rate_hz: 0.0,
                share_above: 0.5,
                sharpness: 1.0,
                level_swing_db: 0.0,
                offset: 0.0,
            },
            blended_at: gesture,
            blended_moves: 0,
            rate_hz: 0.0,
            is_swinging: false,
            start_turn: 0.0,
            turn: 0.0,
            chance: Chance { voice: line, place: 0, key: 0 },
            cycle: 0,
            rate_stray: Stray::NONE,
            width_stray: Stray::NONE,
            factor: 0.0,
            stepped_s: 0.0,
        };
        vibrato.jump(setup, gesture, weights);
        vibrato
    }

    /// Factors of width and rate have been turned: the next step blends anew, also under a gesture
    /// that stands.
    pub fn turn_controls(&mut self) {
        // No gesture equals this.
        self.blended_at = f64::NAN;
    }

    /// Goes on in the swing of other settings.
    pub fn take_over(&mut self, patch: &VibratoPatch, old: &Vibrato) {
        self.onset.take_over(patch, &old.onset);
        self.rate_hz = old.rate_hz;
        self.is_swinging = old.is_swinging;
        self.start_turn = old.start_turn;
        self.turn = old.turn;
        self.chance = old.chance;
        self.cycle = old.cycle;
        self.rate_stray = old.rate_stray;
        self.width_stray = old.width_stray;
        self.factor = old.factor;
        self.stepped_s = old.stepped_s;
    }

    /// Takes the blend and the rate of a gesture at once.
    pub fn jump(&mut self, setup: &Setup, gesture: f64, weights: &Weights) {
        self.blend(setup, gesture, weights);
        self.rate_hz = self.blend.rate_hz;
    }

    /// The line goes to another note, whose chance is drawn at `place`.
    pub fn change(
        &mut self,
        patch: &VibratoPatch,
        now_s: f64,
        change: &NoteChange,
        place: u64,
        key: u8,
    ) {
        self.onset.change(patch, now_s, change);
        self.chance = Chance { place, key, ..self.chance };
        self.cycle = 0;
    }

    /// One step.
    #[inline(always)]
    pub fn step(&mut self, setup: &Setup, now_s: f64, gesture: f64, style: &Style) {
        let patch = &setup.patch.vibrato;
        let slew = RATE_SLEW_PER_S * setup.swing_s;
        self.rate_hz += (self.blend.rate_hz - self.rate_hz).clamp(-slew, slew);
        if self.is_swinging {
            let stray = 1.0 + patch.rate_spread * self.rate_stray.at(self.turn);
            self.turn += self.rate_hz * stray * setup.swing_s;
            if self.turn >= 1.0 {
                self.next_cycle(setup);
            }
        }
        if gesture != self.blended_at || style.moves() != self.blended_moves {
            self.blended_moves = style.moves();
            self.blend(setup, gesture, style.weights());
        }
        self.factor = self.onset.step(patch, now_s);
        self.stepped_s = now_s;
        if self.onset.is_silent() {
            self.is_swinging = false;
        } else if !self.is_swinging {
            self.begin(setup, now_s);
        }
    }

    /// Another step would change nothing.
    pub fn is_settled(
        &self,
        patch: &VibratoPatch,
        now_s: f64,
        gesture: f64,
        style: &Style,
    ) -> bool {
        !self.is_swinging
            && style.moves() == self.blended_moves
            && self.blended_at == gesture
            && self.rate_hz == self.blend.rate_hz
            && self.onset.is_over(patch, now_s)
    }

    /// Width as performed, cents peak to peak.
    #[inline]
    pub fn width_cents(&self) -> f64 {
        self.blend.width_cents * self.factor
    }

    /// Width that the gesture asks for, whatever the note makes of it.
    pub fn asked_width_cents(&self) -> f64 {
        self.blend.width_cents
    }

    /// Rate, Hz, before unevenness.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Share of the present cycle, 0..1; it stands while nothing swings.
    pub fn turn(&self) -> f64 {
        self.turn
    }

    /// Distance from the note, cents.
    pub fn pitch_cents(&self, patch: &VibratoPatch) -> f64 {
        self.pitch_at(patch, self.factor, self.turn)
    }

    /// The swing between this step and the next.
    pub fn seen(&self, setup: &Setup, now_s: f64) -> Swing {
        let patch = &setup.patch.vibrato;
        let after_s = (now_s - self.stepped_s).clamp(0.0, setup.swing_s);
        let slew = RATE_SLEW_PER_S * after_s;
        let rate_hz = self.rate_hz + (self.blend.rate_hz - self.rate_hz).clamp(-slew, slew);
        let stray = 1.0 + patch.rate_spread * self.rate_stray.at(self.turn);
        let turn = self.turn + rate_hz * stray * after_s;
        let factor = self.onset.factor(patch, now_s).whole;
        let pitch_cents = self.pitch_at(patch, factor, turn);
        Swing { width_cents: self.blend.width_cents * factor, rate_hz, pitch_cents }
    }

    fn pitch_at(&self, patch: &VibratoPatch, factor: f64, turn: f64) -> f64 {
        if !self.is_swinging || factor == 0.0 {
            return 0.0;
        }
        let Blend { share_above, sharpness, .. } = self.blend;
        let above = 0.5 + 0.5 * self.sine(turn);
        let swing = share_above * bent(above, sharpness, share_above)
            - (1.0 - share_above) * bent(1.0 - above, sharpness, 1.0 - share_above);
        let stray = 1.0 + patch.width_spread * self.width_stray.at(turn);
        self.blend.width_cents * factor * stray * (swing - self.blend.offset)
    }

    /// The breath's swing of the level, decibels.
    pub fn level_swing_db(&self) -> f64 {
        if !self.is_swinging || self.blend.level_swing_db == 0.0 {
            return 0.0;
        }
        0.5 * self.blend.level_swing_db * self.factor * self.sine(self.turn)
    }

    /// How far the level swings either way, decibels.
    pub fn level_swing_reach_db(&self) -> f64 {
        let factor = if self.is_swinging { self.factor } else { 0.0 };
        0.5 * self.blend.level_swing_db * factor
    }

    fn sine(&self, turn: f64) -> f64 {
        sine_of_turn(turn + self.start_turn)
    }

    /// The swing starts on the pitch itself and moves its first way from there.
    fn begin(&mut self, setup: &Setup, now_s: f64) {
        let Blend { share_above, sharpness, .. } = self.blend;
        let ratio = libm::pow((1.0 - share_above) / share_above, 1.0 / sharpness);
        let above = if share_above == 0.0 { 1.0 } else { ratio / (1.0 + ratio) };
        let rising = libm::asin((2.0 * above - 1.0).clamp(-1.0, 1.0)) / TAU;
        self.start_turn = match setup.patch.vibrato.first_movement {
            FirstMovement::Up => rising,
            FirstMovement::Down => 0.5 - rising,
        };
        debug_assert!(rising.abs() <= 0.25);
        let age_s = (now_s - self.onset.start_s()).clamp(0.0, setup.swing_s);
        self.turn = age_s * self.rate_hz;
        self.is_swinging = true;
        self.cycle = 1;
        let seed = setup.patch.seed;
        let (first, second) = (self.chance.draw(seed, 0), self.chance.draw(seed, 1));
        self.rate_stray = Stray::begin(first.0, second.0);
        self.width_stray = Stray::begin(first.1, second.1);
    }

    fn next_cycle(&mut self, setup: &Setup) {
        self.turn -= 1.0;
        self.cycle = self.cycle.wrapping_add(1);
        let patch = &setup.patch.vibrato;
        if patch.rate_spread > 0.0 || patch.width_spread > 0.0 {
            let news = self.chance.draw(setup.patch.seed, self.cycle);
            self.rate_stray.next_cycle(news.0);
            self.width_stray.next_cycle(news.1);
        }
    }

    fn blend(&mut self, setup: &Setup, gesture: f64, weights: &Weights) {
        let patch = &setup.patch.vibrato;
        self.blended_at = gesture;
        let mut sums = [0.0; 5];
        for (style, &weight) in patch.styles[..patch.style_count].iter().zip(weights) {
            if weight == 0.0 {
                continue;
            }
            let width = weight * style.width_cents.at(gesture);
            if width > 0.0 {
                sums[0] += width;
                sums[1] += width * style.rate_hz.at(gesture);
                sums[2] += width * style.share_above;
                sums[3] += width * style.sharpness;
                sums[4] += width * style.level_swing_db;
            }
        }
        let width_cents = sums[0];
        let first_wide = &patch.styles[setup.first_wide];
        let (rate_hz, share_above, sharpness, level_swing_db) = if width_cents > 0.0 {
            let part = 1.0 / width_cents;
            (sums[1] * part, sums[2] * part, sums[3] * part, sums[4] * part)
        } else {
            let StylePatch { rate_hz, share_above, sharpness, level_swing_db, .. } = first_wide;
            (rate_hz.at(gesture), *share_above, *sharpness, *level_swing_db)
        };
        let offset = if patch.centre == 0.0 {
            0.0
        } else {
            patch.centre * (2.0 * share_above - 1.0) * mean_of_bent(sharpness)
        };
        let (width_cents, rate_hz) = (width_cents * patch.width_scale, rate_hz * patch.rate_scale);
        self.blend = Blend { width_cents, rate_hz, share_above, sharpness, level_swing_db, offset };
    }
}

/// a^q, at no cost for a sine or where its share is nothing.
fn bent(above: f64, sharpness: f64, share: f64) -> f64 {
    if sharpness == 1.0 || share == 0.0 { above } else { power(above, sharpness) }
}

/// Mean of ((1 + sin φ)/2)^q over a cycle: Γ(q + ½)/(√π·Γ(q + 1)).
fn mean_of_bent(sharpness: f64) -> f64 {
    libm::tgamma(sharpness + 0.5) / (libm::sqrt(PI) * libm::tgamma(sharpness + 1.0))
}
