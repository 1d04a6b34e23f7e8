//! How strongly body or bore gives each frequency on, worked out once and looked up from then on.

use polso_engine::math::fast_math::amplitude;

use crate::timbre::Timbre;

/// The lowest frequency of the table, Hz.
const LOWEST_HZ: f64 = 16.0;
/// Points an octave: a resonance of Q 14 is ten of them wide.
const POINTS_PER_OCTAVE: usize = 96;
/// From 16 Hz to 16 kHz.
const OCTAVES: usize = 10;
const POINTS: usize = OCTAVES * POINTS_PER_OCTAVE + 2;
/// Drawn hills an octave, where the modes are many: one every 6 %, 70 Hz at 1.2 kHz.
const HILLS_PER_OCTAVE: f64 = 12.0;

/// Amplitudes over the logarithm of the frequency.
#[derive(Clone, Debug)]
pub struct Relief {
    gains: [f32; POINTS],
}

impl Relief {
    pub fn of(timbre: &Timbre) -> Relief {
        let at = |point: usize| amplitude(db(timbre, LOWEST_HZ * libm::exp2(octaves(point))));
        Relief { gains: core::array::from_fn(|point| at(point) as f32) }
    }

    /// Where a frequency stands in the table, octaves from its low end; above 0.
    pub fn place(hz: f64) -> f64 {
        libm::log2(hz.max(LOWEST_HZ) / LOWEST_HZ)
    }

    /// The amplitude at a place; the ends' beyond the ends.
    #[inline]
    pub fn at(&self, place: f64) -> f64 {
        let point = (place * POINTS_PER_OCTAVE as f64).clamp(0.0, (POINTS - 2) as f64);
        let before = point as usize;
        let (low, high) = (f64::from(self.gains[before]), f64::from(self.gains[before + 1]));
        low + (high - low) * (point - before as f64)
    }
}

fn octaves(point: usize) -> f64 {
    point as f64 / POINTS_PER_OCTAVE as f64
}

fn db(timbre: &Timbre, hz: f64) -> f64 {
    let peaks = timbre.resonances.iter().map(|peak| {
        let off = peak.q * (hz / peak.hz - peak.hz / hz);
        peak.gain_db / (1.0 + off * off)
    });
    let below = timbre.low_cut_hz / hz;
    let low_cut = 0.25 * timbre.low_cut_db * libm::log2(1.0 + below * below * below * below);
    peaks.sum::<f64>() - low_cut + timbre.dense_db * dense(hz / timbre.dense_hz)
}

/// The drawn relief, −1..=1; `ratio` is the frequency over the place from where it holds.
fn dense(ratio: f64) -> f64 {
    // It comes in over an octave.
    let share = libm::log2(ratio).clamp(0.0, 1.0);
    let place = libm::log2(ratio.max(1.0)) * HILLS_PER_OCTAVE;
    let (before, within) = (libm::floor(place), place - libm::floor(place));
    let smooth = within * within * (3.0 - 2.0 * within);
    let (low, high) = (drawn(before as u32), drawn(before as u32 + 1));
    share * (low + (high - low) * smooth)
}

/// A drawn height, −1..=1, always the same for its place.
fn drawn(place: u32) -> f64 {
    let hash = crate::noise::mixed(place.wrapping_add(0x5EED));
    f64::from(hash) / f64::from(u32::MAX) * 2.0 - 1.0
}
