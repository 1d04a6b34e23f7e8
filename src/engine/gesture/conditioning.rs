//! One gesture out of a stepping, jittering controller: straight between its steps, smooth as an
//! arm, and never past where the hand went.

use super::breath_gap::BreathGap;
use super::controller::{Controller, Position};
use super::ramp::Ramp;
use super::smoothing::Smoothing;
use crate::input::Message;
use crate::math::clock::TICK_S;
use crate::math::glide::{lerp, smooth_step};
use crate::math::grain::is_reached;
use crate::patch::{HandPatch, Response};

/// A first value that comes while a note sounds glides in over this time.
const GLIDE_IN_S: f64 = 0.15;
/// Live movement wins over the recorded gesture for this long.
const LIVE_S: f64 = 0.3;
/// A rise begins where the gesture last became faster than this.
const RISE_PER_S_MIN: f64 = 0.3;

/// The gesture of one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GestureNow {
    /// The gesture, 0..=1.
    pub x: f64,
    /// The gesture for style and legato: held through a breath gap.
    pub manner: f64,
    /// How fast `x` rises, 1/s; 0 while a first value glides in.
    pub rise_per_s: f64,
    /// When `rise_per_s` last passed 0.3 /s upwards.
    pub rise_began_s: f64,
    /// The controller has moved.
    pub is_known: bool,
}

/// Conditions the controller. It holds no settings: each method is given the hand's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gesture {
    controller: Controller,
    raw: Option<f64>,
    first_s: Option<f64>,
    ramp: Ramp,
    smoothing: Smoothing,
    shaped: f64,
    glide_in: Option<f64>,
    live_until_s: f64,
    /// The newest of the recorded gesture, and whether it waits for the hand to be still.
    recorded: Option<Position>,
    recorded_waits: bool,
    gap: BreathGap,
    now: GestureNow,
    /// Another tick would change nothing.
    is_still: bool,
    /// The song has jumped under a known hand: its next value is taken at once in silence.
    has_jumped: bool,
}

impl Gesture {
    /// A hand at rest.
    pub fn at_rest(hand: &HandPatch) -> Gesture {
        let now = GestureNow {
            x: hand.rest,
            manner: hand.rest,
            rise_per_s: 0.0,
            rise_began_s: f64::NEG_INFINITY,
            is_known: false,
        };
        Gesture {
            controller: Controller::UNMOVED,
            raw: None,
            first_s: None,
            ramp: Ramp::still(0.0),
            smoothing: Smoothing::still(0.0),
            shaped: hand.rest,
            glide_in: None,
            live_until_s: f64::NEG_INFINITY,
            recorded: None,
            recorded_waits: false,
            gap: BreathGap::NONE,
            now,
            is_still: false,
            has_jumped: false,
        }
    }

    /// The same hand where the song jumps, at time 0: it counts as settled at its last value.
    pub fn settle(&mut self, hand: &HandPatch) {
        let Some(raw) = self.raw else {
            *self = Gesture { controller: self.controller, ..Gesture::at_rest(hand) };
            return;
        };
        let mut controller = self.controller;
        let position = controller.settle(hand, raw);
        let Gesture { recorded, recorded_waits, .. } = *self;
        *self = Gesture { controller, recorded, recorded_waits, ..Gesture::at_rest(hand) };
        self.raw = Some(position.raw);
        self.has_jumped = true;
        self.stand_at(hand, position);
    }

    /// The same hand with other settings of the same source: it counts as settled. A hand of
    /// another source is a new one.
    pub fn adopt(&mut self, old: &HandPatch, new: &HandPatch) {
        if old.source == new.source {
            self.settle(new);
        } else {
            *self = Gesture::at_rest(new);
        }
    }

    /// The same in the midst of a note: it moves on from where it stands.
    pub fn adopt_in_note(&mut self, now_s: f64, old: &HandPatch, new: &HandPatch) {
        if old.source != new.source {
            *self = Gesture::at_rest(new);
            return;
        }
        self.is_still = false;
        if let Some(raw) = self.raw {
            self.ramp.go(now_s, Controller::position(new, raw).travel);
            self.shaped = shape(&new.response, self.smoothing.value());
        }
    }

    /// The first value after a jump was taken at once at this time.
    pub fn landed_at(&self, now_s: f64) -> bool {
        self.has_jumped && self.first_s == Some(now_s)
    }

    fn stand_at(&mut self, hand: &HandPatch, position: Position) {
        self.ramp = Ramp::still(position.travel);
        self.smoothing = Smoothing::still(position.travel);
        self.shaped = shape(&hand.response, position.travel);
        let x = self.shaped;
        self.now = GestureNow { x, manner: x, rise_per_s: 0.0, is_known: true, ..self.now };
    }

    /// Above `x` by a value of its own since the song last jumped, and not on its way below.
    pub fn has_come_above(&self, hand: &HandPatch, x: f64) -> bool {
        self.now.x > x && self.first_s.is_some() && shape(&hand.response, self.ramp.to) > x
    }

    /// The gesture of the last tick.
    #[inline]
    pub fn now(&self) -> &GestureNow {
        &self.now
    }

    /// The controller's last value, share of its whole range.
    pub fn raw(&self) -> Option<f64> {
        self.raw
    }

    /// A message of the source.
    pub fn receive(&mut self, hand: &HandPatch, now_s: f64, message: Message, is_sounding: bool) {
        self.is_still = false;
        self.live_until_s = now_s + LIVE_S;
        self.recorded_waits = self.recorded.is_some();
        if let Some(position) = self.controller.receive(hand, now_s, message) {
            self.go(hand, now_s, position, is_sounding);
        }
    }

    /// A value of the automated parameter: it waits while the hand is moving, and returns then.
    pub fn receive_recorded(
        &mut self,
        hand: &HandPatch,
        now_s: f64,
        value: f64,
        is_sounding: bool,
    ) {
        self.is_still = false;
        let position = Controller::position(hand, value);
        self.recorded = Some(position);
        self.recorded_waits = !is_reached(now_s, self.live_until_s);
        if !self.recorded_waits {
            self.go(hand, now_s, position, is_sounding);
        }
    }

    /// A key was released: pressure and breath that fall with it only articulate.
    pub fn note_off(&mut self, now_s: f64) {
        self.is_still = false;
        self.gap.off_s = now_s;
    }

    /// Where the hand is headed right now, for a note that begins at this very frame.
    fn go(&mut self, hand: &HandPatch, now_s: f64, position: Position, is_sounding: bool) {
        self.raw = Some(position.raw);
        // The two halves of a pair at one time are one value.
        let is_first = *self.first_s.get_or_insert(now_s) == now_s;
        if is_first && !is_sounding {
            self.stand_at(hand, position);
            return;
        }
        if is_first && !self.has_jumped {
            let now = self.now;
            self.stand_at(hand, position);
            self.now = now;
            self.glide_in = Some(now_s);
            return;
        }
        let is_pressure = hand.source.is_pressure();
        let falls_silent = position.travel == 0.0 && self.ramp.to > 0.0;
        if falls_silent && (is_pressure || hand.is_breath) {
            self.gap.zero = Some(now_s);
            if is_pressure {
                return;
            }
        } else if position.travel > 0.0 {
            self.gap.zero = None;
        }
        self.ramp.go(now_s, position.travel);
    }

    /// One tick of the hand.
    #[inline]
    pub fn tick(&mut self, hand: &HandPatch, now_s: f64) {
        if !self.is_still {
            self.move_on(hand, now_s);
        }
    }

    #[inline(always)]
    fn move_on(&mut self, hand: &HandPatch, now_s: f64) {
        if let Some(position) = self.controller.tick(hand, now_s) {
            self.go(hand, now_s, position, true);
        }
        if self.recorded_waits && is_reached(now_s, self.live_until_s) {
            self.recorded_waits = false;
            if let Some(position) = self.recorded {
                self.go(hand, now_s, position, true);
            }
        }
        if self.gap.zero.is_some()
            && hand.source.is_pressure()
            && let Some(ramp_s) = self.gap.pressure_falls(now_s)
        {
            self.ramp.ramp(now_s, 0.0, ramp_s);
        }
        if self.raw.is_some() {
            if self.smoothing.tick(self.ramp.at(now_s), (hand.weight, self.ramp.fast_s)) {
                self.shaped = shape(&hand.response, self.smoothing.value());
            }
            self.place(hand, now_s);
        }
        self.is_still = self.has_arrived(hand, now_s);
    }

    /// A bit-exact fixed point: until something arrives, another tick would change nothing.
    pub fn is_settled(&self) -> bool {
        self.is_still
    }

    #[inline]
    fn has_arrived(&self, hand: &HandPatch, now_s: f64) -> bool {
        if self.raw.is_none() {
            return true;
        }
        if !self.smoothing.rests_at(self.ramp.to) || now_s < self.ramp.end_s {
            return false;
        }
        let waits = self.glide_in.is_some() || self.recorded_waits || !self.gap.is_over(now_s);
        self.now.rise_per_s == 0.0
            && !waits
            && self.controller.is_settled()
            && (!hand.is_breath || self.gap.is_level())
    }

    /// The gesture's place after gliding in, and its place for the manner of playing.
    #[inline]
    fn place(&mut self, hand: &HandPatch, now_s: f64) {
        let mut x = self.shaped;
        let mut rise_per_s = (x - self.now.x) * (1.0 / TICK_S);
        if let Some(start_s) = self.glide_in {
            let share = (now_s - start_s) / GLIDE_IN_S;
            x = lerp(hand.rest, x, smooth_step(share));
            rise_per_s = 0.0;
            if share >= 1.0 {
                self.glide_in = None;
            }
        }
        let manner = if hand.is_breath { self.gap.manner(now_s, x) } else { x };
        let begins = rise_per_s > RISE_PER_S_MIN && self.now.rise_per_s <= RISE_PER_S_MIN;
        let rise_began_s = if begins { now_s } else { self.now.rise_began_s };
        self.now = GestureNow { x, manner, rise_per_s, rise_began_s, is_known: true };
    }
}

#[inline(always)]
fn shape(response: &Response, travel: f64) -> f64 {
    match response {
        Response::Exponential(0.0) => travel,
        Response::Exponential(k) => libm::expm1(k * travel) / libm::expm1(*k),
        Response::Points(curve) => curve.at(travel).clamp(0.0, 1.0),
    }
}
