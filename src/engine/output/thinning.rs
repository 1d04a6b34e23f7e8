//! Few messages: how long a sent number may stay true before a new one is needed.

use crate::patch::setup::EXACT_STEPS;

/// The way to a turning point is v²/(2|a|) at constant a; a swing slows its slowing near the end,
/// and to lead too little costs a message, so it is taken a fifth longer.
const TURN_SHARE: f64 = 0.6;
/// A value that has stood for this many ticks has settled: its exact number is sent.
const SETTLED_TICKS: u32 = 8;

/// Thins the numbers of one output: a number stays sent as long as it is within the bound of the
/// true one, and a new one leads the motion, so that it stays true for up to twice the bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thinning {
    exact: f64,
    /// Steps a tick, at the last look.
    speed: f64,
    still_ticks: u32,
}

impl Thinning {
    /// Nothing has been looked at.
    pub const NONE: Thinning = Thinning { exact: 0.0, speed: 0.0, still_ticks: 0 };

    /// The last true number.
    pub fn exact(&self) -> f64 {
        self.exact
    }

    /// The last true number, rounded.
    pub fn rounded(&self) -> u16 {
        // Never negative, so what is cut off after a half is the nearest.
        (self.exact + 0.5) as u16
    }

    /// The true number at this look. Gives the number to send now, if any, where a sent number may
    /// be `bound` steps from the true one; half a step or less sends every change.
    pub fn look(&mut self, bound: f64, exact: f64, sent: Option<u16>) -> Option<u16> {
        let speed = exact - self.exact;
        let turning = speed - self.speed;
        self.still_ticks = if speed == 0.0 { self.still_ticks.saturating_add(1) } else { 0 };
        self.exact = exact;
        self.speed = speed;
        let rounded = self.rounded();
        let Some(sent) = sent.filter(|_| bound > EXACT_STEPS) else {
            return (sent != Some(rounded)).then_some(rounded);
        };
        if (exact - f64::from(sent)).abs() > bound {
            return Some(self.leading(bound, speed, turning));
        }
        (self.still_ticks >= SETTLED_TICKS && sent != rounded).then_some(rounded)
    }

    /// The number that stays true longest: a bound ahead, or no further ahead than keeps the
    /// turning point, v²/(2|a|) away, within a bound of it.
    fn leading(&self, bound: f64, speed: f64, turning: f64) -> u16 {
        let onward = speed.signum();
        let slows = speed * turning < 0.0;
        let left = if slows { TURN_SHARE * speed * speed / turning.abs() } else { f64::INFINITY };
        let lead = (left - bound).clamp(-bound, bound);
        let wanted = self.exact + onward * lead;
        // The whole number nearest to it that is within the bound of the true one.
        let low = libm::ceil(self.exact - bound);
        let high = libm::floor(self.exact + bound);
        libm::round(wanted).clamp(low, high.max(low)).max(0.0) as u16
    }
}
