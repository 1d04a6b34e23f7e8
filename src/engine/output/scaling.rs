//! From a layer's value to a receiver's number, to the fraction of a step.

use crate::input::message::{BEND_CENTRE, FINE_MAX};
use crate::layer::Layer;
use crate::layers::values::Values;
use crate::math::fast_math::amplitude;
use crate::patch::{Address, OutputPatch, Reading};

impl OutputPatch {
    /// The lowest and the highest number that it sends.
    pub(super) fn ends(&self) -> (u16, u16) {
        match self.layer {
            // A send starts from its rest, wherever that is.
            Layer::Send => (self.min, self.max.max(self.rest)),
            _ => (self.min, self.max),
        }
    }

    /// The receiver's number for the present value, not yet rounded.
    pub(super) fn exact(&self, values: &Values<'_>) -> f64 {
        let share = match self.layer {
            Layer::Dynamics | Layer::Expression => {
                return self.at_db(values.level_db(self.layer), values);
            }
            Layer::Pitch if self.address == Address::PitchBend => {
                // The vibrato and the player's own bend, clipped to the receiver's range.
                let share =
                    values.value(Layer::Pitch) / bend_range_cents(values) + values.player_bend();
                let centre = f64::from(BEND_CENTRE);
                return (centre + share * centre).clamp(0.0, f64::from(FINE_MAX));
            }
            Layer::Send => {
                let lift = values.value(Layer::Send) * f64::from(self.address.raw_max());
                let (least, most) = self.ends();
                return (f64::from(self.rest) + lift).clamp(f64::from(least), f64::from(most));
            }
            layer => {
                let share = (values.value(layer) - self.low) / (self.high - self.low);
                match &self.reading {
                    Reading::Response(curve) => curve.at(share.clamp(0.0, 1.0)),
                    _ => share,
                }
            }
        };
        self.at_share(share)
    }

    /// The receiver's number for a level in decibels, not yet rounded.
    #[inline]
    pub(super) fn at_db(&self, db: f64, values: &Values<'_>) -> f64 {
        self.at_share(match &self.reading {
            Reading::Gm2 => amplitude(0.5 * db),
            Reading::Table(curve) => curve.at(db),
            Reading::Straight | Reading::Response(_) => 1.0 + db / values.span_db(),
        })
    }

    #[inline]
    fn at_share(&self, share: f64) -> f64 {
        let share = share.clamp(0.0, 1.0);
        let share = if self.is_inverted { 1.0 - share } else { share };
        f64::from(self.min) + share * f64::from(self.max - self.min)
    }
}

/// How far the receiver's bend wheel goes either way.
fn bend_range_cents(values: &Values<'_>) -> f64 {
    100.0 * values.setup.patch.target.bend_range_semitones
}
