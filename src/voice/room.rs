//! A short room: a few early reflections, and a tail that dies in most of a second.
//!
//! A feedback network of eight delays through Householder's matrix (Jot & Chaigne 1991), each with a
//! one-pole that dulls it. Lengths, damping and time are our judgement of a small wooden hall.

/// Delays of the tail, milliseconds: no two with a common measure.
const DELAYS_MS: [f64; 8] = [23.1, 26.9, 29.7, 33.3, 37.9, 41.3, 45.1, 49.7];
/// From left and right, milliseconds and gain.
const EARLY: [[(f64, f64); 4]; 2] = [
    [(7.3, 0.50), (13.1, -0.36), (19.9, 0.28), (27.7, 0.20)],
    [(8.9, 0.50), (14.7, 0.36), (22.3, -0.28), (25.3, 0.20)],
];
/// The tail has fallen by 60 dB, seconds.
const TAIL_S: f64 = 0.85;
/// Above this the tail dies faster, Hz.
const DULL_HZ: f64 = 4_500.0;
/// Nothing below this enters the tail, Hz.
const LOW_HZ: f64 = 120.0;
/// How loud the room is beside the line, of 1.
const EARLY_SHARE: f64 = 0.35;
const TAIL_SHARE: f64 = 0.16;
/// Samples of one delay at the highest rate: 50 ms at 192 kHz.
const SAMPLES_MAX: usize = 9_600;
const DELAY_COUNT: usize = DELAYS_MS.len();
/// Less than this is silence, −180 dB, and no number so small that it slows the processor.
const NOTHING: f32 = 1e-9;

/// The room. It is large: keep it in a box.
#[derive(Clone, Debug)]
pub struct Room {
    delays: [[f32; SAMPLES_MAX]; DELAY_COUNT],
    early: [f32; SAMPLES_MAX],
    lengths: [usize; DELAY_COUNT],
    gains: [f32; DELAY_COUNT],
    taps: [[(usize, f32); 4]; 2],
    dull: f32,
    low: f32,
    dulled: [f32; DELAY_COUNT],
    lows: f32,
    place: usize,
    /// Samples since anything but silence was in it.
    quiet: usize,
}

impl Room {
    /// A silent room. The rate lies within [`crate::RATE_HZ`].
    pub fn new(rate_hz: f64) -> Room {
        let samples = |ms: f64| ((ms * 0.001 * rate_hz) as usize).clamp(1, SAMPLES_MAX - 1);
        let pole = |hz: f64| 1.0 - libm::exp(-core::f64::consts::TAU * hz / rate_hz) as f32;
        Room {
            delays: [[0.0; SAMPLES_MAX]; DELAY_COUNT],
            early: [0.0; SAMPLES_MAX],
            lengths: DELAYS_MS.map(samples),
            gains: DELAYS_MS.map(|ms| libm::pow(10.0, -3.0 * 0.001 * ms / TAIL_S) as f32),
            taps: EARLY.map(|side| side.map(|(ms, gain)| (samples(ms), gain as f32))),
            dull: pole(DULL_HZ.min(0.4 * rate_hz)),
            low: pole(LOW_HZ),
            dulled: [0.0; DELAY_COUNT],
            lows: 0.0,
            place: 0,
            quiet: SAMPLES_MAX,
        }
    }

    /// Everything in it has died away.
    pub fn is_silent(&self) -> bool {
        self.quiet >= SAMPLES_MAX
    }

    /// Hears a sample and gives left and right of what comes back.
    #[inline]
    #[expect(clippy::needless_range_loop, reason = "five lists go side by side")]
    pub fn hear(&mut self, dry: f64) -> [f64; 2] {
        let dry = dry as f32;
        if self.is_silent() && dry == 0.0 {
            return [0.0; 2];
        }
        let back = |delay: &[f32; SAMPLES_MAX], length: usize, place: usize| {
            delay[if place >= length { place - length } else { place + SAMPLES_MAX - length }]
        };
        let place = self.place;
        self.early[place] = dry;
        self.lows = flushed(self.lows + self.low * (dry - self.lows));
        let enters = dry - self.lows;
        let mut heard = [0.0_f32; DELAY_COUNT];
        let mut sum = 0.0;
        for it in 0..DELAY_COUNT {
            let came = self.gains[it] * back(&self.delays[it], self.lengths[it], place);
            self.dulled[it] = flushed(self.dulled[it] + self.dull * (came - self.dulled[it]));
            heard[it] = self.dulled[it];
            sum += heard[it];
        }
        // Householder: each gets itself less a quarter of all.
        let shared = sum * (2.0 / DELAY_COUNT as f32);
        let mut moves = dry != 0.0;
        for it in 0..DELAY_COUNT {
            let next = flushed(heard[it] - shared + enters);
            moves |= next != 0.0;
            self.delays[it][place] = next;
        }
        self.quiet = if moves { 0 } else { self.quiet + 1 };
        self.place = if place + 1 < SAMPLES_MAX { place + 1 } else { 0 };
        let sides = [0, 1].map(|side| {
            let taps = self.taps[side].iter();
            let early: f32 =
                taps.map(|(length, gain)| gain * back(&self.early, *length, place)).sum();
            let own = heard.iter().skip(side).step_by(2);
            let signs = [1.0, -1.0, 1.0, -1.0];
            let tail: f32 = own.zip(signs).map(|(heard, sign)| heard * sign).sum();
            f64::from(early) * EARLY_SHARE + f64::from(tail) * TAIL_SHARE
        });
        if self.is_silent() { [0.0; 2] } else { sides }
    }
}

#[inline]
fn flushed(value: f32) -> f32 {
    if value.abs() < NOTHING { 0.0 } else { value }
}
