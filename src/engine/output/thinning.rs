//! Few messages: how long a sent number may stay true before a new one is needed.

use crate::patch::setup::EXACT_STEPS;

/// The way to a turning point is v²/(2|a|) at constant a; a swing slows its slowing near the end,
/// and to lead too little costs a message, so it is taken a fifth longer. Of 0.5 to 1.5 it costs
/// the fewest messages on folk melodies, and on recorded hands none does better.
const TURN_SHARE: f64 = 0.6;
/// A value that has stood for this many ticks has settled: its exact number is sent.
const SETTLED_TICKS: u32 = 8;

/// Where a number that has to be sent may lead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lead {
    /// The motion may turn back at any time: no further than the turn allows.
    Turning,
    /// The motion goes on for a while: a whole bound.
    Onward,
    /// The motion is known to go to this number.
    To(f64),
}

/// Thins the numbers of one output: a number stays sent as long as it is within the bound of the
/// true one, and a new one leads the motion, so that it stays true for up to twice the bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thinning {
    exact: f64,
    /// Steps a tick, over the last change.
    speed: f64,
    /// By how much the speed changed a tick.
    turning: f64,
    still_ticks: u32,
}

impl Thinning {
    /// Nothing has been looked at.
    pub const NONE: Thinning = Thinning { exact: 0.0, speed: 0.0, turning: 0.0, still_ticks: 0 };

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
    /// be `bound` steps from the true one; half a step or less sends every change. `lead` is told
    /// which way the value goes (1 up, −1 down, 0 not at all) and asked only where a number may lead.
    pub fn look(
        &mut self,
        bound: f64,
        exact: f64,
        sent: Option<u16>,
        lead: impl FnOnce(f64) -> Lead,
    ) -> Option<u16> {
        if bound <= EXACT_STEPS {
            self.exact = exact;
            let rounded = self.rounded();
            return (sent != Some(rounded)).then_some(rounded);
        }
        self.follow(exact);
        let rounded = self.rounded();
        let Some(sent) = sent else {
            return Some(rounded);
        };
        if (exact - f64::from(sent)).abs() > bound {
            let onward = if self.speed == 0.0 { 0.0 } else { self.speed.signum() };
            let ahead = match lead(onward) {
                Lead::Turning => onward * turning_lead(bound, self.speed, self.turning),
                Lead::Onward => onward * bound,
                Lead::To(goal) => (goal - exact).clamp(-bound, bound),
            };
            return Some(self.leading(bound, ahead));
        }
        (self.still_ticks >= SETTLED_TICKS && sent != rounded).then_some(rounded)
    }

    /// Speed and turning of a value that may stand for some ticks between its steps.
    fn follow(&mut self, exact: f64) {
        let moved = exact - self.exact;
        self.exact = exact;
        if moved == 0.0 {
            self.still_ticks = self.still_ticks.saturating_add(1);
            if self.still_ticks >= SETTLED_TICKS {
                (self.speed, self.turning) = (0.0, 0.0);
            }
            return;
        }
        // What has settled begins anew.
        let is_fresh = self.still_ticks >= SETTLED_TICKS;
        let ticks = if is_fresh { 1.0 } else { f64::from(self.still_ticks + 1) };
        let speed = moved / ticks;
        self.turning = (speed - self.speed) / ticks;
        self.speed = speed;
        self.still_ticks = 0;
    }

    /// The whole number nearest to the one that lies ahead, within the bound of the true one.
    fn leading(&self, bound: f64, ahead: f64) -> u16 {
        let low = libm::ceil(self.exact - bound);
        let high = libm::floor(self.exact + bound);
        libm::round(self.exact + ahead).clamp(low, high.max(low)).max(0.0) as u16
    }
}

/// A bound ahead, or no further than keeps the turning point, v²/(2|a|) away, within a bound of it.
fn turning_lead(bound: f64, speed: f64, turning: f64) -> f64 {
    let slows = speed * turning < 0.0;
    let left = if slows { TURN_SHARE * speed * speed / turning.abs() } else { f64::INFINITY };
    (left - bound).clamp(-bound, bound)
}
