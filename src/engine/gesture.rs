//! One gesture out of a stepping, jittering controller: straight between its steps, smooth as an
//! arm, and never past where the hand went.

use super::clock::TICK_S;
use super::event::Message;
use super::gap::Gap;
use super::glide::{lerp, smooth_step};
use super::hand::{Hand, Position};
use super::patch::{HandPatch, Response};
use super::ramp::Line;

/// Smoothing time of a fast and of a slow hand, and the speed between them.
const FAST_S: f64 = 0.004;
const SLOW_S: f64 = 0.045;
const TURN_PER_S: f64 = 0.40;
/// 1 − e^(−2π·6 Hz·1 ms): how the remembered speed falls.
const SPEED_FALL: f64 = 0.036_996_4;
/// A speed below this is stillness; it keeps the filter clear of denormals.
const SPEED_MIN: f64 = 1e-6;
/// The poles arrive when they are this close: a hundred times finer than 14 bits could show.
const ARRIVAL: f64 = 1e-7;
/// A first value that comes while a note sounds glides in over this time.
const GLIDE_IN_S: f64 = 0.15;
/// Live movement wins over the recorded gesture for this long.
const LIVE_S: f64 = 0.3;

/// The gesture of one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    /// The gesture, 0..=1.
    pub x: f64,
    /// The gesture for style and legato: held through a breath gap.
    pub manner: f64,
    /// How fast `x` rises, 1/s; 0 while a first value glides in.
    pub rise_per_s: f64,
    /// The controller has moved.
    pub is_known: bool,
}

/// Conditions the controller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gesture {
    pub(super) hand: Hand,
    response: Response,
    weight: f64,
    rest: f64,
    raw: Option<f64>,
    first_s: Option<f64>,
    line: Line,
    speed_per_s: f64,
    poles: [f64; 2],
    shaped: f64,
    glide_in: Option<f64>,
    live_until_s: f64,
    /// The newest of the recorded gesture, and whether it waits for the hand to be still.
    recorded: Option<Position>,
    recorded_waits: bool,
    gap: Gap,
    now: Now,
    /// Another tick would change nothing.
    is_still: bool,
    /// The song has jumped under a known hand: its next value is taken at once in silence.
    has_jumped: bool,
}

impl Gesture {
    /// A hand at rest.
    pub fn load(patch: &HandPatch) -> Gesture {
        let now = Now { x: patch.rest, manner: patch.rest, rise_per_s: 0.0, is_known: false };
        Gesture {
            hand: Hand::load(patch),
            response: patch.response,
            weight: patch.weight,
            rest: patch.rest,
            raw: None,
            first_s: None,
            line: Line::still(0.0),
            speed_per_s: 0.0,
            poles: [0.0; 2],
            shaped: patch.rest,
            glide_in: None,
            live_until_s: f64::NEG_INFINITY,
            recorded: None,
            recorded_waits: false,
            gap: Gap::NONE,
            now,
            is_still: false,
            has_jumped: false,
        }
    }

    /// The same hand where the song jumps, at time 0: it counts as settled at its last value.
    pub fn settle(&mut self) {
        let patch = *self.hand.patch();
        let Some(raw) = self.raw else {
            let Gesture { hand, weight, .. } = *self;
            *self = Gesture { hand, weight, ..Gesture::load(&patch) };
            return;
        };
        let mut hand = self.hand;
        let position = hand.settle(raw);
        let Gesture { weight, recorded, recorded_waits, .. } = *self;
        *self = Gesture { hand, weight, recorded, recorded_waits, ..Gesture::load(&patch) };
        self.raw = Some(position.raw);
        self.has_jumped = true;
        self.stand_at(position);
    }

    /// The same hand with other settings: it counts as settled, and as a new hand if its source
    /// is another.
    pub fn adopt(&mut self, patch: &HandPatch) {
        let is_same = self.hand.adopt(patch);
        if is_same {
            self.weight = patch.weight;
            self.settle();
        } else {
            *self = Gesture::load(patch);
        }
    }

    /// The same in the midst of a note: it moves on from where it stands.
    pub fn adopt_in_note(&mut self, now_s: f64, patch: &HandPatch) {
        if !self.hand.adopt(patch) {
            *self = Gesture::load(patch);
            return;
        }
        (self.response, self.weight, self.rest) = (patch.response, patch.weight, patch.rest);
        self.is_still = false;
        if let Some(raw) = self.raw {
            self.line.go(now_s, self.hand.position(raw).travel);
            self.shaped = self.shape(self.poles[1]);
        }
    }

    /// The first value after a jump was taken at once at this time.
    pub fn landed_at(&self, now_s: f64) -> bool {
        self.has_jumped && self.first_s == Some(now_s)
    }

    fn stand_at(&mut self, position: Position) {
        self.line = Line::still(position.travel);
        self.poles = [position.travel; 2];
        self.shaped = self.shape(position.travel);
        let x = self.shaped;
        self.now = Now { x, manner: x, rise_per_s: 0.0, is_known: true };
    }

    /// A hand of another weight.
    pub fn weigh(&mut self, weight: f64) {
        self.weight = weight;
    }

    /// The gesture of the last tick.
    pub fn now(&self) -> Now {
        self.now
    }

    /// The controller's last value, share of its whole range.
    pub fn raw(&self) -> Option<f64> {
        self.raw
    }

    /// A message of the source.
    pub fn receive(&mut self, now_s: f64, message: Message, is_sounding: bool) {
        self.is_still = false;
        self.live_until_s = now_s + LIVE_S;
        self.recorded_waits = self.recorded.is_some();
        if let Some(position) = self.hand.receive(now_s, message) {
            self.go(now_s, position, is_sounding);
        }
    }

    /// A value of the automated parameter: it waits while the hand is moving, and returns then.
    pub fn receive_recorded(&mut self, now_s: f64, value: f64, is_sounding: bool) {
        self.is_still = false;
        let position = self.hand.position(value);
        self.recorded = Some(position);
        self.recorded_waits = now_s < self.live_until_s;
        if !self.recorded_waits {
            self.go(now_s, position, is_sounding);
        }
    }

    /// A key was released: pressure and breath that fall with it only articulate.
    pub fn note_off(&mut self, now_s: f64) {
        self.is_still = false;
        self.gap.off_s = now_s;
    }

    /// Where the hand is headed right now, for a note that begins at this very frame.
    fn go(&mut self, now_s: f64, position: Position, is_sounding: bool) {
        self.raw = Some(position.raw);
        // The two halves of a pair at one time are one value.
        let is_first = *self.first_s.get_or_insert(now_s) == now_s;
        if is_first && !is_sounding {
            self.stand_at(position);
            return;
        }
        if is_first && !self.has_jumped {
            let now = self.now;
            self.stand_at(position);
            self.now = now;
            self.glide_in = Some(now_s);
            return;
        }
        let falls_silent = position.travel == 0.0 && self.line.to > 0.0;
        if falls_silent && (self.hand.is_pressure() || self.hand.is_breath()) {
            self.gap.zero = Some(now_s);
            if self.hand.is_pressure() {
                return;
            }
        } else if position.travel > 0.0 {
            self.gap.zero = None;
        }
        self.line.go(now_s, position.travel);
    }

    /// One tick of the hand.
    #[inline]
    pub fn tick(&mut self, now_s: f64) -> Now {
        if self.is_still {
            return self.now;
        }
        if let Some(position) = self.hand.tick(now_s) {
            self.go(now_s, position, true);
        }
        if self.recorded_waits && now_s >= self.live_until_s {
            self.recorded_waits = false;
            if let Some(position) = self.recorded {
                self.go(now_s, position, true);
            }
        }
        if self.hand.is_pressure()
            && let Some(ramp_s) = self.gap.pressure_falls(now_s)
        {
            self.line.ramp(now_s, 0.0, ramp_s);
        }
        if self.raw.is_some() {
            self.smooth(now_s);
            self.place(now_s);
        }
        self.is_still = self.has_arrived(now_s);
        self.now
    }

    /// A bit-exact fixed point: until something arrives, another tick would change nothing.
    pub fn is_settled(&self) -> bool {
        self.is_still
    }

    fn has_arrived(&self, now_s: f64) -> bool {
        if self.raw.is_none() {
            return true;
        }
        if self.poles != [self.line.to; 2] || now_s < self.line.end_s {
            return false;
        }
        let stands = self.speed_per_s == 0.0 && self.now.rise_per_s == 0.0;
        let waits = self.glide_in.is_some() || self.recorded_waits || !self.gap.is_over(now_s);
        stands
            && !waits
            && self.hand.is_settled()
            && (!self.hand.is_breath() || self.gap.is_level())
    }

    /// Two equal poles whose time follows the speed of the hand.
    #[inline]
    fn smooth(&mut self, now_s: f64) {
        let (line, speed) = self.line.at(now_s);
        if speed >= self.speed_per_s {
            self.speed_per_s = speed;
        } else {
            self.speed_per_s += (speed - self.speed_per_s) * SPEED_FALL;
            if self.speed_per_s < SPEED_MIN {
                self.speed_per_s = 0.0;
            }
        }
        let [mut first, mut second] = self.poles;
        if first == line && second == line {
            return;
        }
        let ratio = self.speed_per_s * (1.0 / TURN_PER_S);
        let nimbleness = 1.0 + ratio * ratio;
        // One tick over half of weight · (FAST_S + (SLOW_S − FAST_S)/nimbleness).
        let half_time_s = 0.5 * self.weight * (FAST_S * nimbleness + (SLOW_S - FAST_S));
        let share = one_pole_share(TICK_S * nimbleness, half_time_s);
        first += share * (line - first);
        second += share * (first - second);
        if (line - first).abs() < ARRIVAL && (line - second).abs() < ARRIVAL {
            (first, second) = (line, line);
        }
        self.poles = [first, second];
        self.shaped = self.shape(second);
    }

    /// The gesture's place after gliding in, and its place for the manner of playing.
    #[inline]
    fn place(&mut self, now_s: f64) {
        let mut x = self.shaped;
        let mut rise_per_s = (x - self.now.x) * (1.0 / TICK_S);
        if let Some(start_s) = self.glide_in {
            let share = (now_s - start_s) / GLIDE_IN_S;
            x = lerp(self.rest, x, smooth_step(share));
            rise_per_s = 0.0;
            if share >= 1.0 {
                self.glide_in = None;
            }
        }
        let manner = if self.hand.is_breath() { self.gap.manner(now_s, x) } else { x };
        self.now = Now { x, manner, rise_per_s, is_known: true };
    }

    #[inline]
    fn shape(&self, travel: f64) -> f64 {
        match &self.response {
            Response::Exponential(0.0) => travel,
            Response::Exponential(k) => libm::expm1(k * travel) / libm::expm1(*k),
            Response::Points(curve) => curve.at(travel).clamp(0.0, 1.0),
        }
    }
}

/// The share of the way that a one-pole goes in `tick` while its time constant is `time`,
/// 1 − e^(−h) with h = tick/time: a (3, 3) Padé form of the exponential with one division, within
/// 4e-6 of it for h of 0..=1.
#[inline]
pub fn one_pole_share(tick: f64, time: f64) -> f64 {
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
