//! The controller's steps joined by straight lines, each as long as steps have lately taken.

use crate::math::grain::{SAME_S, grain};

/// What a new interval between values weighs in their moving average.
const INTERVAL_WEIGHT: f64 = 0.35;
/// The shortest straight line from one value to the next.
pub const RAMP_S_MIN: f64 = 0.003;
const RAMP_S_MAX: f64 = 0.050;
/// After this gap the average begins again at [`INTERVAL_S_START`].
const GAP_S: f64 = 0.6;
const INTERVAL_S_START: f64 = 0.010;
/// The least smoothing of a fast hand, and the most that a sparse one gets: a fifth of its own
/// interval. With values every 40 to 60 ms the largest change of a swell's speed from one 10 ms to
/// the next is two thirds of what the least smoothing leaves, for 6 ms more lag; more would add
/// more than the interval itself to the lag. A source polled every 20 ms or sooner keeps the least.
const FAST_S_MIN: f64 = 0.004;
const FAST_S_MAX: f64 = 0.010;
const FAST_SHARE: f64 = 0.2;

/// Where the controller stands between its steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    from: f64,
    /// Value at the end, and after it.
    pub to: f64,
    start_s: f64,
    /// When it ends.
    pub end_s: f64,
    per_s: f64,
    interval_s: f64,
    accepted_s: f64,
    /// The smoothing time of a fast hand whose values come as they have lately.
    pub fast_s: f64,
}

impl Ramp {
    /// It stands still.
    pub const fn still(value: f64) -> Ramp {
        let (start_s, end_s) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let (interval_s, accepted_s) = (INTERVAL_S_START, f64::NEG_INFINITY);
        let (per_s, fast_s) = (0.0, FAST_S_MIN);
        Ramp { from: value, to: value, start_s, end_s, per_s, interval_s, accepted_s, fast_s }
    }

    /// A new value: on from here in a straight line, for as long as values have lately taken.
    pub fn go(&mut self, now_s: f64, to: f64) {
        let interval_s = now_s - self.accepted_s;
        if grain(interval_s) > GAP_S {
            self.interval_s = INTERVAL_S_START;
        } else if interval_s > 0.0 {
            self.interval_s += INTERVAL_WEIGHT * (interval_s - self.interval_s);
        }
        self.accepted_s = now_s;
        self.fast_s = (FAST_SHARE * self.interval_s).clamp(FAST_S_MIN, FAST_S_MAX);
        // The same again is no new way: begun anew each time, it would never quite end.
        if to != self.to {
            self.ramp(now_s, to, self.interval_s.clamp(RAMP_S_MIN, RAMP_S_MAX));
        }
    }

    /// On from here in a straight line of a given length.
    pub fn ramp(&mut self, now_s: f64, to: f64, length_s: f64) {
        self.from = self.at(now_s).0;
        self.to = to;
        self.start_s = now_s;
        // A tick at the very end is the end, in every repeat of a bar.
        self.end_s = now_s + length_s - SAME_S;
        self.per_s = (to - self.from) / length_s;
    }

    /// Value and speed.
    #[inline]
    pub fn at(&self, now_s: f64) -> (f64, f64) {
        if now_s >= self.end_s {
            return (self.to, 0.0);
        }
        // A tick may stand up to half a frame after its time, and the start in that half frame.
        let age_s = (now_s - self.start_s).max(0.0);
        (self.from + self.per_s * age_s, self.per_s.abs())
    }
}
