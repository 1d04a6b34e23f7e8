//! Other settings in the midst of a note: each value goes from where it stood to where it belongs.

use crate::layer::Layer;
use crate::math::fast_math::amplitude;
use crate::math::glide::{Glide, lerp};
use crate::patch::STYLES_MAX;

/// From the old settings' values to the new ones'.
const FADE_S: f64 = 0.050;
/// Width, rate, style, pitch, send, gesture and brightness, before the styles' weights.
const PLAIN_COUNT: usize = 7;

/// The values of the old settings, and how much the new ones count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fade {
    values: [f64; PLAIN_COUNT + STYLES_MAX],
    /// Dynamics and expression, amplitudes.
    levels: [f64; 2],
    share: Glide,
}

impl Fade {
    /// Only the present settings.
    pub const NONE: Fade = Fade {
        values: [0.0; PLAIN_COUNT + STYLES_MAX],
        levels: [0.0; 2],
        share: Glide::still(1.0),
    };

    /// Away from the values and the decibels of a moment.
    pub fn away_from(
        now_s: f64,
        value: impl Fn(Layer) -> f64,
        level_db: impl Fn(Layer) -> f64,
    ) -> Fade {
        let mut fade = Fade::NONE;
        for layer in Layer::OUTPUTS {
            if let Some(place) = place(layer) {
                fade.values[place] = value(layer);
            }
        }
        fade.levels = [Layer::Dynamics, Layer::Expression].map(|it| amplitude(level_db(it)));
        fade.share = Glide::still(0.0);
        fade.share.aim(now_s, 1.0, FADE_S);
        fade
    }

    /// The old settings still count.
    #[inline]
    pub fn is_on(&self, now_s: f64) -> bool {
        !self.share.is_done(now_s)
    }

    /// Between a layer's old value and its new one.
    pub fn value(&self, now_s: f64, layer: Layer, new: f64) -> f64 {
        match place(layer) {
            Some(place) => lerp(self.values[place], new, self.share.at(now_s)),
            None => new,
        }
    }

    /// Between a level's old decibels and its new ones, as amplitudes.
    pub fn level_db(&self, now_s: f64, layer: Layer, new_db: f64) -> f64 {
        let old = self.levels[usize::from(layer == Layer::Expression)];
        20.0 * libm::log10(lerp(old, amplitude(new_db), self.share.at(now_s)))
    }
}

fn place(layer: Layer) -> Option<usize> {
    match layer {
        Layer::VibratoWidth => Some(0),
        Layer::VibratoRate => Some(1),
        Layer::Style => Some(2),
        Layer::Pitch => Some(3),
        Layer::Send => Some(4),
        Layer::Gesture => Some(5),
        Layer::Brightness => Some(6),
        Layer::StyleWeight(style) => Some(PLAIN_COUNT + usize::from(style) % STYLES_MAX),
        Layer::Dynamics
        | Layer::Expression
        | Layer::Legato
        | Layer::Articulation
        | Layer::Slide => None,
    }
}
