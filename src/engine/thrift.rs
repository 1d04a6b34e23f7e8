//! Few messages, and none too many at once: how long a sent number may stay true, and how much the
//! cable carries.

/// Within half a step a rounded number is as true as it can be: nothing to be saved.
const EXACT_STEPS: f64 = 0.5;
/// The way to a turning point is v²/(2|a|) at constant a; a swing slows its slowing near the end,
/// and to lead too little costs a message, so it is taken a fifth longer.
const TURN_SHARE: f64 = 0.6;
/// A value that has stood for this many ticks has settled: its exact number is sent.
const SETTLED_TICKS: u32 = 8;

/// Thins the numbers of one output: a number stays sent as long as it is within the bound of the
/// true one, and a new one leads the motion, so that it stays true for up to twice the bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thrift {
    /// Steps of the receiver's number, half a step or more.
    bound: f64,
    exact: f64,
    /// Steps a tick, at the last look.
    speed: f64,
    still_ticks: u32,
}

impl Thrift {
    /// Nothing has been looked at. A bound of half a step or less sends every change.
    pub fn load(bound: f64) -> Thrift {
        Thrift { bound: bound.max(EXACT_STEPS), exact: 0.0, speed: 0.0, still_ticks: 0 }
    }

    /// Messages are saved.
    #[inline]
    pub fn is_on(&self) -> bool {
        self.bound > EXACT_STEPS
    }

    /// The number is further than the bound from the true one.
    pub fn is_off(&self, sent: u16) -> bool {
        (self.exact - f64::from(sent)).abs() > self.bound
    }

    /// The last true number.
    pub fn exact(&self) -> f64 {
        self.exact
    }

    /// The last true number, rounded.
    pub fn rounded(&self) -> u16 {
        // Never negative, so what is cut off after a half is the nearest.
        (self.exact + 0.5) as u16
    }

    /// Every tick: the true number. Gives the number to send now, if any.
    pub fn look(&mut self, exact: f64, sent: Option<u16>) -> Option<u16> {
        let speed = exact - self.exact;
        let turning = speed - self.speed;
        self.still_ticks = if speed == 0.0 { self.still_ticks.saturating_add(1) } else { 0 };
        self.exact = exact;
        self.speed = speed;
        let rounded = self.rounded();
        let Some(sent) = sent.filter(|_| self.is_on()) else {
            return (sent != Some(rounded)).then_some(rounded);
        };
        if self.is_off(sent) {
            return Some(self.leading(speed, turning));
        }
        (self.still_ticks >= SETTLED_TICKS && sent != rounded).then_some(rounded)
    }

    /// The number that stays true longest: a bound ahead, or no further ahead than keeps the
    /// turning point, v²/(2|a|) away, within a bound of it.
    fn leading(&self, speed: f64, turning: f64) -> u16 {
        let onward = speed.signum();
        let slows = speed * turning < 0.0;
        let left = if slows { TURN_SHARE * speed * speed / turning.abs() } else { f64::INFINITY };
        let lead = (left - self.bound).clamp(-self.bound, self.bound);
        let wanted = self.exact + onward * lead;
        // The whole number nearest to it that is within the bound of the true one.
        let low = libm::ceil(self.exact - self.bound);
        let high = libm::floor(self.exact + self.bound);
        libm::round(wanted).clamp(low, high.max(low)).max(0.0) as u16
    }
}

/// What a channel carries: so many messages a second, and a few at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    per_tick: f64,
    burst: f64,
    left: f64,
    tick: u64,
}

impl Allowance {
    /// All of the burst is left.
    pub fn load(messages_per_s: f64, burst_messages: f64) -> Allowance {
        let per_tick = messages_per_s * super::clock::TICK_S;
        Allowance { per_tick, burst: burst_messages, left: burst_messages, tick: 0 }
    }

    /// Time has passed and messages have gone out.
    pub fn settle(&mut self, tick: u64, messages: u32) {
        // From a signed number it is one instruction, and 2^63 ticks do not pass.
        let gained = self.per_tick * tick.saturating_sub(self.tick) as i64 as f64;
        self.tick = tick;
        self.left = (self.left + gained).min(self.burst) - f64::from(messages);
        // What must go out may go out on credit, but not on more than the burst.
        self.left = self.left.max(-self.burst);
    }

    /// An output of this priority (0 is the first) may send: it leaves something for those before it.
    pub fn allows(&self, priority: u8) -> bool {
        self.left >= 1.0 + f64::from(priority)
    }
}
