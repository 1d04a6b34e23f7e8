//! What a sound is made of, by the plain sum that a Fourier transform is.

use std::f64::consts::TAU;

/// A Blackman-Harris window: its sides lie 92 dB down four widths away (Harris 1978).
fn window(length: usize) -> Vec<f64> {
    let weight = |place: usize| {
        let at = TAU * place as f64 / length as f64;
        0.358_75 - 0.488_29 * libm::cos(at) + 0.141_28 * libm::cos(2.0 * at)
            - 0.011_68 * libm::cos(3.0 * at)
    };
    (0..length).map(weight).collect()
}

/// The level of a sine of `hz` in the samples, decibels of full scale.
pub fn level_db(samples: &[f64], rate_hz: f64, hz: f64) -> f64 {
    let (mut real, mut imaginary, mut whole) = (0.0, 0.0, 0.0);
    for (place, (sample, weight)) in samples.iter().zip(window(samples.len())).enumerate() {
        let angle = TAU * (hz * place as f64 / rate_hz).fract();
        real += weight * sample * libm::cos(angle);
        imaginary += weight * sample * libm::sin(angle);
        whole += weight;
    }
    20.0 * libm::log10(2.0 * libm::hypot(real, imaginary) / whole + 1e-15)
}

/// Everything in the samples that is no partial of `hz`, decibels beside all of them: what folds back
/// lies anywhere, so it is what is left when the partials are taken away.
pub fn strange_db(samples: &[f64], rate_hz: f64, hz: f64) -> f64 {
    let weights = window(samples.len());
    let squares = weights.iter().map(|weight| weight * weight);
    let all: f64 = squares.clone().zip(samples).map(|(weight, it)| weight * it * it).sum();
    let all = all / squares.sum::<f64>();
    let numbers = (1..).map(|number| f64::from(number) * hz).take_while(|it| *it < 0.5 * rate_hz);
    let partials: f64 = numbers.map(|it| libm::exp10(level_db(samples, rate_hz, it) / 10.0)).sum();
    10.0 * libm::log10((all - 0.5 * partials).abs() / all + 1e-15)
}

/// Decibels of the mean power.
pub fn power_db(samples: &[f64]) -> f64 {
    let power: f64 = samples.iter().map(|sample| sample * sample).sum();
    10.0 * libm::log10(power / samples.len() as f64 + 1e-30)
}
