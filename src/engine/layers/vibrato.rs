//! The swing of the pitch: how wide, how fast and which way, with one oscillator for the line.

use core::f64::consts::TAU;

use super::blend::Blend;
use super::body::{Body, BodySwing};
use super::character::Character;
use super::onset::{NoteChange, Onset};
use super::style::{Style, Weights};
use super::unfolding::Unfolding;
use crate::math::chance::{Chance, Stray};
use crate::math::fast_math::{power, sine_of_turn};
use crate::patch::setup::Setup;
use crate::patch::{FirstMovement, VibratoPatch};

/// The fastest change of the rate, Hz a second.
const RATE_SLEW_PER_S: f64 = 3.0;

/// The vibrato of one line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vibrato {
    /// When it begins and how it grows.
    pub onset: Onset,
    blend: Blend,
    blended_at: f64,
    blended_moves: u32,
    /// Settings have changed that the blend is made of.
    is_stale: bool,
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
    unfolding: Unfolding,
    body: Body,
    character: Character,
}

/// The swing at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// Width as performed, with its unevenness, cents peak to peak.
    pub width_cents: f64,
    /// Rate as performed, with its unevenness, Hz.
    pub rate_hz: f64,
    /// Distance from the note, cents.
    pub pitch_cents: f64,
    /// Loudness swing with it, decibels.
    pub level_db: BodySwing,
    /// How the body moves.
    pub body: BodySwing,
}

impl Vibrato {
    /// No vibrato yet on the line of this number.
    pub fn at(setup: &Setup, line: u8, gesture: f64, weights: &Weights) -> Vibrato {
        let mut vibrato = Vibrato {
            onset: Onset::NONE,
            blend: Blend::NONE,
            blended_at: gesture,
            blended_moves: 0,
            is_stale: false,
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
            unfolding: Unfolding::NONE,
            body: Body::STILL,
            character: Character::of(setup, line),
        };
        vibrato.jump(setup, gesture, weights);
        vibrato
    }

    /// The vibrato is another player's from here on.
    pub fn rename(&mut self, setup: &Setup, line: u8) {
        self.chance.voice = line;
        self.character = Character::of(setup, line);
        self.is_stale = true;
    }

    /// Width and rate have been turned: the next step blends anew, also under a gesture that
    /// stands.
    pub fn turn_controls(&mut self) {
        self.is_stale = true;
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
        self.unfolding = old.unfolding;
        self.body = old.body;
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
        self.onset.change(patch, now_s, change, self.character.onset_s);
        self.chance = Chance { place, key, ..self.chance };
        self.cycle = 0;
        self.body.change(self.chance, change.is_joined);
    }

    /// One step.
    #[inline(always)]
    pub fn step(&mut self, setup: &Setup, now_s: f64, gesture: f64, style: &Style) {
        let patch = &setup.patch.vibrato;
        let slew = RATE_SLEW_PER_S * setup.swing_s;
        self.rate_hz += (self.blend.rate_hz - self.rate_hz).clamp(-slew, slew);
        if self.is_swinging {
            self.turn += self.uneven_hz(patch, self.rate_hz) * setup.swing_s;
            if self.turn >= 1.0 {
                self.next_cycle(setup);
            }
            self.unfolding.step(patch, setup.swing_s, gesture - self.blended_at);
        }
        if gesture != self.blended_at || style.moves() != self.blended_moves || self.is_stale {
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
            && !self.is_stale
            && self.rate_hz == self.blend.rate_hz
            && self.onset.is_over(patch, now_s)
    }

    /// Width that a receiver's own vibrato is told, cents peak to peak: S·W, even from cycle to
    /// cycle, so that a still hand says nothing.
    #[inline]
    pub fn width_cents(&self) -> f64 {
        self.blend.width_cents * self.factor
    }

    /// Width that the gesture asks for, whatever the note makes of it.
    pub fn asked_width_cents(&self) -> f64 {
        self.blend.width_cents
    }

    /// Rate that a receiver's own vibrato is told, Hz: before unevenness.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Share of the present cycle, 0..1; it stands while nothing swings.
    pub fn turn(&self) -> f64 {
        self.turn
    }

    /// Distance from the note, cents.
    pub fn pitch_cents(&self, patch: &VibratoPatch) -> f64 {
        if !self.is_swinging || self.factor == 0.0 {
            return 0.0;
        }
        self.performed_width(patch, self.stepped_s, self.factor, self.turn)
            * self.shape(patch, self.stepped_s, self.turn)
    }

    /// The loudness swing, decibels.
    pub fn level_swing_db(&self, setup: &Setup, now_s: f64) -> BodySwing {
        self.body(setup, now_s).of(self.blend.level_swing_db)
    }

    /// How the body moves, as wide as the last step left it: a number may go out between two steps.
    pub fn body(&self, setup: &Setup, now_s: f64) -> BodySwing {
        let after_s = (now_s - self.stepped_s).clamp(0.0, setup.swing_s);
        let rate_hz = self.uneven_hz(&setup.patch.vibrato, self.rate_hz);
        self.body_at(self.factor, self.turn + rate_hz * after_s)
    }

    /// Moves with each step of the body, and is 0 while that stands.
    #[inline]
    pub fn body_state(&self) -> f64 {
        if self.is_swinging { 1.0 + self.turn + self.factor } else { 0.0 }
    }

    /// The swing between this step and the next.
    pub fn seen(&self, setup: &Setup, now_s: f64) -> Swing {
        let patch = &setup.patch.vibrato;
        let after_s = (now_s - self.stepped_s).clamp(0.0, setup.swing_s);
        let slew = RATE_SLEW_PER_S * after_s;
        let even_hz = self.rate_hz + (self.blend.rate_hz - self.rate_hz).clamp(-slew, slew);
        let factor = self.onset.factor(patch, now_s).whole;
        if !self.is_swinging || factor == 0.0 {
            let width_cents = self.blend.width_cents * factor;
            let still = BodySwing::STILL;
            return Swing {
                width_cents,
                rate_hz: even_hz,
                pitch_cents: 0.0,
                level_db: still,
                body: still,
            };
        }
        let rate_hz = self.uneven_hz(patch, even_hz);
        let turn = self.turn + rate_hz * after_s;
        let width_cents = self.performed_width(patch, now_s, factor, turn);
        let body = self.body_at(factor, turn);
        Swing {
            width_cents,
            rate_hz,
            pitch_cents: width_cents * self.shape(patch, now_s, turn),
            level_db: body.of(self.blend.level_swing_db),
            body,
        }
    }

    /// A rate with its unevenness at this place of the cycle, Hz.
    #[inline]
    fn uneven_hz(&self, patch: &VibratoPatch, even_hz: f64) -> f64 {
        even_hz * (1.0 + patch.rate_spread * self.rate_stray.at(self.turn))
    }

    /// Width with its arch and its unevenness, cents peak to peak.
    #[inline]
    fn performed_width(&self, patch: &VibratoPatch, now_s: f64, factor: f64, turn: f64) -> f64 {
        let stray = 1.0 + patch.width_spread * self.width_stray.at(turn);
        self.blend.width_cents * factor * stray * self.unfolding.arch(patch, now_s)
    }

    /// Distance from the note, share of the width.
    #[inline]
    fn shape(&self, patch: &VibratoPatch, now_s: f64, turn: f64) -> f64 {
        let Blend { share_above, sharpness, offset, .. } = self.blend;
        let above = 0.5 + 0.5 * self.sine(turn);
        let swing = share_above * bent(above, sharpness, share_above)
            - (1.0 - share_above) * bent(1.0 - above, sharpness, 1.0 - share_above);
        if offset == 0.0 { swing } else { swing - offset * self.unfolding.settled(patch, now_s) }
    }

    /// How the body moves under the factor S.
    #[inline]
    fn body_at(&self, factor: f64, turn: f64) -> BodySwing {
        if !self.is_swinging {
            return BodySwing::STILL;
        }
        self.body.at(turn + self.start_turn, factor * self.blend.fullness)
    }

    fn sine(&self, turn: f64) -> f64 {
        sine_of_turn(turn + self.start_turn)
    }

    /// The swing starts on the pitch itself and moves its first way from there.
    fn begin(&mut self, setup: &Setup, now_s: f64) {
        let Blend { share_above, sharpness, .. } = self.blend;
        let ratio = libm::pow((1.0 - share_above) / share_above, 1.0 / sharpness);
        let is_below = share_above == 0.0 || ratio == f64::INFINITY;
        let above = if is_below { 1.0 } else { ratio / (1.0 + ratio) };
        let rising = libm::asin((2.0 * above - 1.0).clamp(-1.0, 1.0)) / TAU;
        self.start_turn = match setup.patch.vibrato.first_movement {
            FirstMovement::Up => rising,
            FirstMovement::Down => 0.5 - rising,
        };
        debug_assert!(rising.abs() <= 0.25);
        let age_s = (now_s - self.onset.start_s()).clamp(0.0, setup.swing_s);
        self.turn = age_s * self.rate_hz;
        self.unfolding.begin(now_s - age_s);
        self.body.begin(setup);
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
        self.blended_at = gesture;
        self.is_stale = false;
        self.blend = Blend::of(setup, gesture, weights);
        self.blend.rate_hz *= self.character.rate;
        self.blend.width_cents *= self.character.width;
    }
}

/// a^q, at no cost for a sine or where its share is nothing.
fn bent(above: f64, sharpness: f64, share: f64) -> f64 {
    if sharpness == 1.0 || share == 0.0 { above } else { power(above, sharpness) }
}
