//! The partials of a tone: how strong each is at this pitch and brightness, and their sum.

use polso_engine::math::fast_math::{amplitude, sine_of_turn};

use crate::relief::Relief;
use crate::timbre::Timbre;

/// The most partials of a tone: a double bass's lowest string reaches 4 kHz with them, and has little
/// beyond.
pub const PARTIALS_MAX: usize = 96;
/// The highest partial, Hz: above it few hear, and recorders' filters begin.
const TOP_HZ: f64 = 16_000.0;
/// At lower rates this share of the rate: its sidebands stay below the half.
const TOP_SHARE: f64 = 0.42;
/// From this share of the top on partials grow weaker, so that none appears or goes at once.
const FADE_SHARE: f64 = 0.8;
/// Partials from here on that are this far below the whole, decibels, are left out.
const LEAST_DB: f64 = -80.0;
/// A tone that begins or has almost died away keeps what it has 40 dB above that.
const HEIGHT_MIN: f64 = 0.01;
/// Samples that are summed at once, side by side in the processor.
const ABREAST: usize = 16;

/// Strengths of the partials, the first at place 0. Their power is 1 together. Single precision sums
/// them to 90 dB, and twice as fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strengths {
    pub of: [f32; PARTIALS_MAX],
    /// From here on all are 0.
    pub count: usize,
}

impl Strengths {
    pub const NONE: Strengths = Strengths { of: [0.0; PARTIALS_MAX], count: 0 };
}

/// The fall beyond the knee, amplitudes from so many octaves below it on.
const BELOW_KNEE: f64 = 6.0;
const KNEE_POINTS_PER_OCTAVE: f64 = 16.0;
const KNEE_POINTS: usize = 256;

/// How the partials of an instrument go with pitch and brightness.
#[derive(Clone, Debug)]
pub struct Spectrum {
    timbre: &'static Timbre,
    relief: Relief,
    /// log2 of each partial's number, and how strong it leaves the source.
    octaves: [f64; PARTIALS_MAX],
    source: [f64; PARTIALS_MAX],
    knee: [f64; KNEE_POINTS],
    /// An even partial's amplitude far below where it equals the odd ones.
    even: f64,
    top_hz: f64,
}

impl Spectrum {
    pub fn of(timbre: &'static Timbre, rate_hz: f64) -> Spectrum {
        let octaves = core::array::from_fn(|place| libm::log2((place + 1) as f64));
        let source = core::array::from_fn(|place| amplitude(-timbre.slope_db * octaves[place]));
        let knee = core::array::from_fn(|point| {
            let over = point as f64 / KNEE_POINTS_PER_OCTAVE - BELOW_KNEE;
            // So many decibels for each octave beyond, and 3 for each 6 of them at the knee.
            amplitude(-0.5 * timbre.knee_db * libm::log2(1.0 + libm::exp2(2.0 * over)))
        });
        let (relief, even) = (Relief::of(timbre), amplitude(-timbre.even_db));
        let top_hz = TOP_HZ.min(TOP_SHARE * rate_hz);
        Spectrum { timbre, relief, octaves, source, knee, even, top_hz }
    }

    /// The strengths at this pitch (Hz, above 0) and brightness (0..=1) of a tone of this height
    /// (0..=1): of one that dies away fewer partials count. A tone above the top has none and is
    /// silent.
    pub fn strengths(&self, (hz, brightness): (f64, f64), height: f64, strengths: &mut Strengths) {
        let place = Relief::place(hz);
        let knee = self.timbre.knee_hz;
        let knee_hz = knee.soft * libm::pow(knee.loud / knee.soft, brightness);
        let to_knee = place - Relief::place(knee_hz) + BELOW_KNEE;
        let fade_hz = FADE_SHARE * self.top_hz;
        let last = ((self.top_hz / hz) as usize).min(PARTIALS_MAX);
        let over_even = hz / self.timbre.even_hz;
        let mut power = 0.0;
        for (partial, octaves) in self.octaves[..last].iter().enumerate() {
            let number = (partial + 1) as f64;
            let mut strength = self.source[partial]
                * self.relief.at(place + octaves)
                * self.beyond_knee(to_knee + octaves);
            if partial % 2 == 1 {
                let over = number * over_even;
                strength *= 1.0 - (1.0 - self.even) / (1.0 + over * over);
            }
            let above = (number * hz - fade_hz) / (self.top_hz - fade_hz);
            if above > 0.0 {
                strength *= 1.0 - above;
            }
            power += strength * strength;
            strengths.of[partial] = strength as f32;
        }
        let count = normalise(strengths, last, (power, height));
        strengths.of[count..strengths.count.max(count)].fill(0.0);
        strengths.count = count;
    }

    /// The fall at so many octaves from [`BELOW_KNEE`] below the knee.
    #[inline]
    fn beyond_knee(&self, octaves: f64) -> f64 {
        let point = (octaves * KNEE_POINTS_PER_OCTAVE).clamp(0.0, (KNEE_POINTS - 2) as f64);
        let before = point as usize;
        let (low, high) = (self.knee[before], self.knee[before + 1]);
        low + (high - low) * (point - before as f64)
    }
}

/// Makes the power 1 (a sine of strength s has s²/2) and says how many partials count.
fn normalise(strengths: &mut Strengths, last: usize, (power, height): (f64, f64)) -> usize {
    if power < f64::MIN_POSITIVE {
        strengths.of[..last].fill(0.0);
        return 0;
    }
    let factor = libm::sqrt(2.0 / power) as f32;
    let least = (amplitude(LEAST_DB) / height.max(HEIGHT_MIN)) as f32;
    let mut count = 0;
    for (partial, strength) in strengths.of[..last].iter_mut().enumerate() {
        *strength *= factor;
        if *strength > least {
            count = partial + 1;
        }
    }
    strengths.of[count..last].fill(0.0);
    count
}

/// A run of samples: the phase of the first partial at each, turns, and how far each is on the way
/// from the old strengths to the new, 0..=1.
pub struct Run<'a> {
    pub turns: &'a [f64],
    pub shares: &'a [f64],
}

/// Sums the partials by Clenshaw's recurrence, which needs one cosine a sample and for each partial
/// two multiplications. Adds nothing: `out` is written.
pub fn sum(run: &Run<'_>, from: &Strengths, to: &Strengths, out: &mut [f64]) {
    let count = from.count.max(to.count);
    let mut ways = [0.0; PARTIALS_MAX];
    for (way, (from, to)) in ways.iter_mut().zip(from.of.iter().zip(&to.of)) {
        *way = to - from;
    }
    let pieces = run.turns.chunks(ABREAST).zip(run.shares.chunks(ABREAST));
    for ((turns, shares), out) in pieces.zip(out.chunks_mut(ABREAST)) {
        let mut sines = [0.0_f64; ABREAST];
        let (mut doubles, mut share) = ([0.0; ABREAST], [0.0; ABREAST]);
        for (place, turn) in turns.iter().enumerate() {
            sines[place] = sine_of_turn(*turn);
            doubles[place] = 2.0 * sine_of_turn(*turn + 0.25) as f32;
            share[place] = shares[place] as f32;
        }
        let summed = clenshaw(&from.of[..count], &ways[..count], &doubles, &share);
        for ((out, sum), sine) in out.iter_mut().zip(summed).zip(sines) {
            *out = f64::from(sum) * sine;
        }
    }
}

#[inline]
fn clenshaw(
    strengths: &[f32],
    ways: &[f32],
    doubles: &[f32; ABREAST],
    share: &[f32; ABREAST],
) -> [f32; ABREAST] {
    let (mut next, mut after) = ([0.0; ABREAST], [0.0; ABREAST]);
    for (strength, way) in strengths.iter().zip(ways).rev() {
        for place in 0..ABREAST {
            let own = strength + way * share[place] - after[place];
            after[place] = next[place];
            next[place] = own + doubles[place] * next[place];
        }
    }
    next
}
