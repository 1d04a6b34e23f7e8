//! The rush of hair or air beside the tone: drawn by place, and kept to its band.

use crate::timbre::NoiseTimbre;

/// A well-mixed whole number for each whole number: the finaliser of MurmurHash3, which is free for all.
#[inline]
pub fn mixed(place: u32) -> u32 {
    let mut hash = place;
    hash ^= hash >> 16;
    hash = hash.wrapping_mul(0x85EB_CA6B);
    hash ^= hash >> 13;
    hash = hash.wrapping_mul(0xC2B2_AE35);
    hash ^ (hash >> 16)
}

/// A band of noise of power 1. It has no running die: sample n is drawn from the seed and n.
#[derive(Clone, Copy, Debug)]
pub struct Noise {
    seed: u32,
    count: u32,
    /// A band-pass of second order (state variable, trapezoidal): gains and memory.
    g: f64,
    k: f64,
    a: f64,
    scale: f64,
    low: f64,
    band: f64,
}

impl Noise {
    pub fn of(timbre: &NoiseTimbre, rate_hz: f64, seed: u32) -> Noise {
        let hz = timbre.hz.min(0.4 * rate_hz);
        let g = libm::tan(core::f64::consts::PI * hz / rate_hz);
        let k = 1.0 / timbre.q;
        // White noise of power 1/3 leaves a band-pass of peak 1 with the share of its noise
        // bandwidth, π/2 · hz/q, in the half of the rate.
        let share = core::f64::consts::FRAC_PI_2 * hz / timbre.q / (0.5 * rate_hz);
        let scale = libm::sqrt(3.0 / share.min(1.0));
        let a = 1.0 / (1.0 + g * (g + k));
        Noise { seed: mixed(seed), count: 0, g, k, a, scale, low: 0.0, band: 0.0 }
    }

    /// The next sample.
    #[inline]
    pub fn next(&mut self) -> f64 {
        let drawn = mixed(self.seed.wrapping_add(self.count));
        self.count = self.count.wrapping_add(1);
        let white = f64::from(drawn as i32) * (1.0 / 2_147_483_648.0);
        let v1 = self.a * (self.band + self.g * (white - self.low));
        let v2 = self.low + self.g * v1;
        self.band = 2.0 * v1 - self.band;
        self.low = 2.0 * v2 - self.low;
        self.k * v1 * self.scale
    }

    /// What rings on is forgotten, once nobody hears it.
    pub fn rest(&mut self) {
        self.band = 0.0;
        self.low = 0.0;
    }
}
