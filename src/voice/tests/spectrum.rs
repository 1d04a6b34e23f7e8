//! What a sound is made of, by the plain sum that a Fourier transform is.

use std::f64::consts::TAU;

/// The level of a sine of `hz` in the samples, decibels of full scale, through a Blackman-Harris
/// window, whose sides lie 92 dB down four widths away (Harris 1978).
pub fn level_db(samples: &[f64], rate_hz: f64, hz: f64) -> f64 {
    let (mut real, mut imaginary, mut weight) = (0.0, 0.0, 0.0);
    let length = samples.len() as f64;
    for (place, sample) in samples.iter().enumerate() {
        let at = TAU * place as f64 / length;
        let window = 0.358_75 - 0.488_29 * libm::cos(at) + 0.141_28 * libm::cos(2.0 * at)
            - 0.011_68 * libm::cos(3.0 * at);
        let angle = TAU * hz * place as f64 / rate_hz;
        real += window * sample * libm::cos(angle);
        imaginary += window * sample * libm::sin(angle);
        weight += window;
    }
    20.0 * libm::log10(2.0 * libm::hypot(real, imaginary) / weight + 1e-15)
}

/// Decibels of the mean power.
pub fn power_db(samples: &[f64]) -> f64 {
    let power: f64 = samples.iter().map(|sample| sample * sample).sum();
    10.0 * libm::log10(power / samples.len() as f64 + 1e-30)
}
