//! A ceiling that nothing goes through, for the ears of whoever listens.

use crate::engine::math::fast_math::amplitude;

/// No sample goes above this, decibels of full scale.
pub const CEILING_DBFS: f64 = -3.0;
/// After a peak the gain is back by two thirds after so long, seconds.
const RELEASE_S: f64 = 0.12;

/// A limiter without delay: at a peak the gain is down at once, and comes back slowly. What is no
/// number comes out as silence. Every method may be called on the audio thread.
#[derive(Clone, Copy, Debug)]
pub struct Limiter {
    ceiling: f64,
    gain: f64,
    release: f64,
}

impl Limiter {
    /// A limiter at rest.
    pub fn new(rate_hz: f64) -> Limiter {
        let release = 1.0 - libm::exp(-1.0 / (RELEASE_S * rate_hz));
        Limiter { ceiling: amplitude(CEILING_DBFS), gain: 1.0, release }
    }

    /// The next frame, no higher than the ceiling.
    pub fn next(&mut self, frame: [f64; 2]) -> [f64; 2] {
        let frame = frame.map(|sample| if sample.is_finite() { sample } else { 0.0 });
        let peak = frame[0].abs().max(frame[1].abs());
        self.gain += self.release * (1.0 - self.gain);
        if peak * self.gain > self.ceiling {
            self.gain = self.ceiling / peak;
        }
        frame.map(|sample| (sample * self.gain).clamp(-self.ceiling, self.ceiling))
    }
}
