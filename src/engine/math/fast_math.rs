//! Sine, power and exponential in a few operations, each within a stated error of the library's.
//!
//! All are polynomials through Chebyshev nodes, in plain additions and multiplications, so every
//! machine has the same bits. The tests below compare each with `libm`, its naive twin.

/// log2 of the smallest power that is told from nothing: a level of it is 600 dB down.
const LEAST_LOG2: f64 = -100.0;
/// Adding and taking away this much rounds to whole numbers.
const ROUNDER: f64 = 6_755_399_441_055_744.0;
const MANTISSA_BITS: u32 = 52;
const EXPONENT_BIAS: i64 = 1023;
/// √½: a mantissa from there to √2 is nearest to 1.
const ROOT_HALF_BITS: u64 = 0x3FE6_A09E_667F_3BCD;

const SINE: [f64; 7] = [
    6.283_185_307_179_27,
    -41.341_702_239_903_67,
    81.605_249_149_015_83,
    -76.705_847_543_773_27,
    42.058_134_871_372_06,
    -15.081_483_206_893,
    3.665_855_159_563_961_3,
];
const LOG2: [f64; 6] = [
    2.885_390_081_777_850_5,
    0.961_796_694_112_353_2,
    0.577_077_942_632_254_7,
    0.412_209_227_113_652_9,
    0.319_906_670_368_924_5,
    0.282_887_039_415_608_3,
];
const EXP2: [f64; 9] = [
    core::f64::consts::LN_2,
    0.240_226_506_958_129_9,
    0.055_504_108_664_760_42,
    0.009_618_129_159_402_559,
    0.001_333_355_817_904_311,
    0.000_154_034_558_524_538_4,
    1.525_268_684_626_771_8e-5,
    1.325_522_487_866_881_7e-6,
    1.020_312_106_339_173e-7,
];

/// sin(2π · turn), within 1e-13 for turns of −1000..=1000.
#[inline]
pub fn sine_of_turn(turn: f64) -> f64 {
    let turn = turn - whole(turn);
    let turn = if turn.abs() > 0.25 { 0.5_f64.copysign(turn) - turn } else { turn };
    (turn * polynomial(&SINE, turn * turn)).clamp(-1.0, 1.0)
}

/// base^exponent for a base of 0..=1 and an exponent of 1..=2, within 1e-12 of its value, and 0
/// where that is below 2^−100.
#[inline]
pub fn power(base: f64, exponent: f64) -> f64 {
    if base < f64::MIN_POSITIVE { 0.0 } else { exp2(exponent * log2(base)) }
}

/// 10^(db/20) for −2000..=200 decibels, within 1e-12 of its value, and 0 below −602 decibels.
#[inline]
pub fn amplitude(db: f64) -> f64 {
    exp2(db * (core::f64::consts::LOG2_10 / 20.0))
}

/// 20·log10 of an amplitude not below 0, within 1e-11 decibels; minus infinity at nothing.
#[inline]
pub fn decibels(amplitude: f64) -> f64 {
    if amplitude < f64::MIN_POSITIVE {
        return f64::NEG_INFINITY;
    }
    log2(amplitude) * (20.0 * core::f64::consts::LOG10_2)
}

/// log2 of a positive normal number.
#[inline]
fn log2(value: f64) -> f64 {
    let above = value.to_bits().wrapping_sub(ROOT_HALF_BITS) as i64;
    let exponent = above >> MANTISSA_BITS;
    let mantissa = f64::from_bits(value.to_bits().wrapping_sub((exponent << MANTISSA_BITS) as u64));
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    exponent as f64 + ratio * polynomial(&LOG2, ratio * ratio)
}

/// 2^value, 0 below [`LEAST_LOG2`].
#[inline]
fn exp2(value: f64) -> f64 {
    if value < LEAST_LOG2 {
        return 0.0;
    }
    let exponent = whole(value);
    let rest = value - exponent;
    let scale = f64::from_bits(((exponent as i64 + EXPONENT_BIAS) as u64) << MANTISSA_BITS);
    scale * (1.0 + rest * polynomial(&EXP2, rest))
}

/// The nearest whole number.
#[inline]
fn whole(value: f64) -> f64 {
    (value + ROUNDER) - ROUNDER
}

#[inline]
fn polynomial<const N: usize>(terms: &[f64; N], x: f64) -> f64 {
    terms.iter().rev().fold(0.0, |sum, term| sum * x + term)
}

#[cfg(test)]
mod tests {
    use core::f64::consts::TAU;

    use super::{amplitude, decibels, power, sine_of_turn};

    const STEPS: u32 = 20_000;

    /// The place of a step between two ends.
    fn between(step: u32, least: f64, most: f64) -> f64 {
        least + (most - least) * f64::from(step) / f64::from(STEPS)
    }

    #[test]
    fn the_sine_is_the_librarys_within_1e_13() {
        for turn in (0..=STEPS).map(|step| between(step, -2.0, 3.0)) {
            let (found, twin) = (sine_of_turn(turn), libm::sin(TAU * turn));
            // The library is given 2π·turn rounded, so it strays by a few 1e-15 itself.
            assert!((found - twin).abs() < 1.1e-13, "{turn}: {found}, {twin}");
        }
        assert_eq!((sine_of_turn(0.0), sine_of_turn(1.0)), (0.0, 0.0));
        assert!(sine_of_turn(0.25) <= 1.0 && sine_of_turn(-0.25) >= -1.0);
    }

    #[test]
    fn the_power_is_the_librarys_within_1e_12_of_its_value() {
        for exponent in [1.0, 1.1, 1.3, 1.5, 1.7, 2.0] {
            for base in (1..=STEPS).map(|step| between(step, 0.0, 1.0)) {
                let (found, twin) = (power(base, exponent), libm::pow(base, exponent));
                assert!((found - twin).abs() < 1e-12 * twin, "{base}^{exponent}: {found}, {twin}");
            }
        }
        for exponent in [1.0, 1.7] {
            assert_eq!((power(0.0, exponent), power(1.0, exponent)), (0.0, 1.0));
            assert_eq!((power(1e-300, exponent), power(-1e-16, exponent)), (0.0, 0.0));
        }
    }

    #[test]
    fn the_decibels_are_the_librarys_within_1e_11() {
        for level in (1..=STEPS).map(|step| between(step, 0.0, 1.0)) {
            let (found, twin) = (decibels(level), 20.0 * libm::log10(level));
            assert!((found - twin).abs() < 1e-11, "{level}: {found}, {twin}");
        }
        assert_eq!((decibels(1.0), decibels(0.0)), (0.0, f64::NEG_INFINITY));
    }

    #[test]
    fn the_amplitude_is_the_librarys_within_1e_12_of_its_value() {
        for db in (0..=STEPS).map(|step| between(step, -600.0, 40.0)) {
            let (found, twin) = (amplitude(db), libm::exp10(db / 20.0));
            assert!((found - twin).abs() < 1e-12 * twin, "{db} dB: {found}, {twin}");
        }
        assert_eq!((amplitude(0.0), amplitude(-2000.0)), (1.0, 0.0));
    }
}
