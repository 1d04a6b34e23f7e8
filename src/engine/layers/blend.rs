//! The styles blended into one way of swinging, at one gesture.

use super::style::Weights;
use crate::patch::StylePatch;
use crate::patch::setup::Setup;

/// The mean of ((1 + sin φ)/2)^q over a cycle, Γ(q + ½)/(√π·Γ(q + 1)), by powers of q − 1.5: a
/// polynomial through Chebyshev nodes, within 2e-6 for q of 1..=2, which is 0.001 cents of the
/// widest vibrato.
const MEANS: [f64; 6] = [
    0.424_414_559_782_983_65,
    -0.118_994_383_969_551_45,
    0.049_384_489_044_932_85,
    -0.022_584_060_730_672_678,
    0.011_805_592_278_477_706,
    -0.005_741_986_851_931_945,
];

/// A width below this is none: to weigh by it would be to divide by nothing.
const WIDTH_CENTS_MIN: f64 = 1e-6;

/// Asked to be slower still, no vibrato goes below this.
const RATE_HZ_MIN: f64 = 1.0;

/// The styles at one gesture: all but the width weighted by the width of each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blend {
    /// Width that the gesture asks for, cents peak to peak.
    pub width_cents: f64,
    /// Rate, Hz.
    pub rate_hz: f64,
    /// Share of the width above the pitch, 0..=1.
    pub share_above: f64,
    /// Sharpness, 1..=2.
    pub sharpness: f64,
    /// Loudness swing of a whole vibrato, decibels peak to peak.
    pub level_swing_db: f64,
    /// The width beside that of gesture 0.5, at most 1: how much of the body moves with it.
    pub fullness: f64,
    /// Mean of the swing over a cycle that the ear corrects, share of the width.
    pub offset: f64,
}

impl Blend {
    /// No vibrato.
    pub const NONE: Blend = Blend {
        width_cents: 0.0,
        rate_hz: 0.0,
        share_above: 0.5,
        sharpness: 1.0,
        level_swing_db: 0.0,
        fullness: 0.0,
        offset: 0.0,
    };

    /// The styles of a gesture. Where nothing has any width, the shape is that of the first style
    /// that ever has some.
    pub fn of(setup: &Setup, gesture: f64, weights: &Weights) -> Blend {
        let patch = &setup.patch.vibrato;
        let mut sums = Sums::default();
        for (place, &weight) in weights.iter().enumerate().take(patch.style_count) {
            if weight == 0.0 {
                continue;
            }
            let style = &patch.styles[place];
            let width = weight * style.width_cents.at(gesture);
            if width > WIDTH_CENTS_MIN {
                sums.width += width;
                sums.add(width, style, gesture, setup.middling_widths[place]);
            }
        }
        let width = sums.width;
        if width == 0.0 {
            sums.add(1.0, &patch.styles[setup.first_wide], gesture, 0.0);
        }
        let part = if width > 0.0 { 1.0 / width } else { 1.0 };
        // Sums of rounded products stray by a last bit beyond what they are made of.
        let share_above = (sums.share * part).clamp(0.0, 1.0);
        let sharpness = sums.sharpness * part;
        let lean = 2.0 * share_above - 1.0;
        let offset =
            if lean == 0.0 { 0.0 } else { sums.centre * part * lean * mean_of_bent(sharpness) };
        let width_cents = width * patch.width_scale;
        let middling_cents = sums.middling * part;
        let is_full = width_cents >= middling_cents && width_cents > 0.0;
        Blend {
            width_cents,
            rate_hz: (sums.rate * part * patch.rate_scale + patch.rate_shift_hz).max(RATE_HZ_MIN),
            share_above,
            sharpness,
            level_swing_db: sums.swing * part,
            fullness: if is_full { 1.0 } else { width_cents / middling_cents.max(WIDTH_CENTS_MIN) },
            offset,
        }
    }
}

#[derive(Default)]
struct Sums {
    width: f64,
    rate: f64,
    share: f64,
    sharpness: f64,
    swing: f64,
    centre: f64,
    middling: f64,
}

impl Sums {
    #[inline(always)]
    fn add(&mut self, width: f64, style: &StylePatch, gesture: f64, middling: f64) {
        self.rate += width * style.rate_hz.at(gesture);
        self.share += width * style.share_above;
        self.sharpness += width * style.sharpness;
        self.swing += width * style.level_swing_db;
        self.centre += width * style.centre;
        self.middling += width * middling;
    }
}

/// Mean of ((1 + sin φ)/2)^q over a cycle.
fn mean_of_bent(sharpness: f64) -> f64 {
    let x = sharpness - 1.5;
    MEANS.iter().rev().fold(0.0, |sum, term| sum * x + term)
}

#[cfg(test)]
mod tests {
    use super::mean_of_bent;

    #[test]
    fn the_mean_of_a_bent_swing_is_that_of_the_gamma_functions() {
        for step in 0..=1000 {
            let q = 1.0 + f64::from(step) / 1000.0;
            let root_pi = libm::sqrt(core::f64::consts::PI);
            let twin = libm::tgamma(q + 0.5) / (root_pi * libm::tgamma(q + 1.0));
            assert!((mean_of_bent(q) - twin).abs() < 2e-6, "{q}: {}, {twin}", mean_of_bent(q));
        }
        // The mean of a is ½ and of a² 3/8.
        assert!((mean_of_bent(1.0) - 0.5).abs() < 2e-6 && (mean_of_bent(2.0) - 0.375).abs() < 2e-6);
    }
}
