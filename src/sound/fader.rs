//! How loud the line is let out: up from silence, down to it, and never at a step.

use crate::engine::math::fast_math::amplitude;

/// From silence to where it is set, and back, seconds.
const FADE_S: f64 = 0.3;

/// A fader. It begins closed. Every method may be called on the audio thread.
#[derive(Clone, Copy, Debug)]
pub struct Fader {
    /// Where it is set, an amplitude.
    level: f64,
    /// How far it is open, 0..=1.
    share: f64,
    step: f64,
    is_open: bool,
}

impl Fader {
    /// A fader that opens to so many decibels.
    pub fn new(db: f64, rate_hz: f64) -> Fader {
        Fader { level: amplitude(db), share: 0.0, step: 1.0 / (FADE_S * rate_hz), is_open: true }
    }

    /// It goes down to silence.
    pub fn close(&mut self) {
        self.is_open = false;
    }

    /// It is down.
    pub fn is_closed(&self) -> bool {
        !self.is_open && self.share == 0.0
    }

    /// The gain of the next frame.
    pub fn next_gain(&mut self) -> f64 {
        let way = if self.is_open { self.step } else { -self.step };
        self.share = (self.share + way).clamp(0.0, 1.0);
        self.level * self.share * self.share * (3.0 - 2.0 * self.share)
    }
}
