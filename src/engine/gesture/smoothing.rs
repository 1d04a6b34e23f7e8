//! Two equal poles whose time follows the speed of the hand: quick for a quick one, calm for a slow.

use crate::math::clock::TICK_S;

/// Smoothing time of a slow hand, and the speed between it and a fast one.
const SLOW_S: f64 = 0.045;
const TURN_PER_S: f64 = 0.40;
/// 1 − e^(−2π·6 Hz·1 ms): how the remembered speed falls.
const SPEED_FALL: f64 = 0.036_996_4;
/// A speed below this is stillness; it keeps the filter clear of denormals.
const SPEED_MIN: f64 = 1e-6;
/// The poles arrive when they are this close: a hundred times finer than 14 bits could show.
const ARRIVAL: f64 = 1e-7;

/// The filter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Smoothing {
    speed_per_s: f64,
    poles: [f64; 2],
}

impl Smoothing {
    /// It stands at a value.
    pub const fn still(value: f64) -> Smoothing {
        Smoothing { speed_per_s: 0.0, poles: [value; 2] }
    }

    /// The smoothed value.
    pub fn value(&self) -> f64 {
        self.poles[1]
    }

    /// It has come to rest at a value.
    pub fn rests_at(&self, value: f64) -> bool {
        self.poles == [value; 2] && self.speed_per_s == 0.0
    }

    /// One tick towards `goal`, which moves at `speed_per_s`, under a hand of this weight and
    /// smoothing time while it is fast. True if the value has moved.
    #[inline(always)]
    pub fn tick(&mut self, (goal, speed_per_s): (f64, f64), (weight, fast_s): (f64, f64)) -> bool {
        if speed_per_s >= self.speed_per_s {
            self.speed_per_s = speed_per_s;
        } else {
            self.speed_per_s += (speed_per_s - self.speed_per_s) * SPEED_FALL;
            if self.speed_per_s < SPEED_MIN {
                self.speed_per_s = 0.0;
            }
        }
        let [mut first, mut second] = self.poles;
        if first == goal && second == goal {
            return false;
        }
        let ratio = self.speed_per_s * (1.0 / TURN_PER_S);
        let nimbleness = 1.0 + ratio * ratio;
        // One tick over half of weight · (fast_s + (SLOW_S − fast_s)/nimbleness).
        let half_time_s = 0.5 * weight * (fast_s * nimbleness + (SLOW_S - fast_s));
        let share = one_pole_share(TICK_S * nimbleness, half_time_s);
        first += share * (goal - first);
        second += share * (first - second);
        if (goal - first).abs() < ARRIVAL && (goal - second).abs() < ARRIVAL {
            (first, second) = (goal, goal);
        }
        self.poles = [first, second];
        true
    }
}

/// The share of the way that a one-pole goes in `tick` while its time constant is `time`,
/// 1 − e^(−h) with h = tick/time: a (3, 3) Padé form of the exponential with one division, within
/// 4e-6 of it for h of 0..=1.
#[inline]
fn one_pole_share(tick: f64, time: f64) -> f64 {
    let (tick2, time2) = (tick * tick, time * time);
    let even = time * (time2 + tick2 * 0.1);
    let odd = tick * (0.5 * time2 + tick2 * (1.0 / 120.0));
    2.0 * odd / (even + odd)
}

#[cfg(test)]
mod tests {
    use super::one_pole_share;

    /// Ticks in one time constant: fine enough for the closed forms of continuous time.
    const FINE: usize = 10_000;

    #[test]
    fn the_share_of_a_tick_is_the_exponential_one() {
        for h in [0.001, 1.0 / 45.0, 0.1, 0.5, 1.0] {
            let share = one_pole_share(h, 1.0);
            assert!((share + libm::expm1(-h)).abs() < 4e-6, "{h}: {share}");
        }
    }

    /// 1 − e^(−t/τ) at t/τ = 1, 2, 3: closed form.
    #[test]
    fn one_pole_goes_its_way_as_published() {
        for (times, expected) in [(1, 0.632_121), (2, 0.864_665), (3, 0.950_213)] {
            let mut pole = 0.0;
            for _ in 0..times * 45 {
                pole += one_pole_share(1.0, 45.0) * (1.0 - pole);
            }
            assert!((pole - expected).abs() < 2e-6, "{times}: {pole}");
        }
    }

    /// 1 − (1 + ωt)e^(−ωt) at ωt = 1..5: closed form of two equal poles.
    #[test]
    fn two_equal_poles_go_their_way_as_published() {
        let expected = [0.264_241, 0.593_994, 0.800_852, 0.908_422, 0.959_572];
        for (times, expected) in expected.into_iter().enumerate() {
            let (mut first, mut second) = (0.0, 0.0);
            for _ in 0..(times + 1) * FINE {
                first += one_pole_share(1.0, FINE as f64) * (1.0 - first);
                second += one_pole_share(1.0, FINE as f64) * (first - second);
            }
            assert!((second - expected).abs() < 5e-5, "{}: {second}", times + 1);
        }
    }
}
