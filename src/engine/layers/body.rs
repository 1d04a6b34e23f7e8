//! What else swings with the pitch: the body's resonances make the sound louder and brighter by turns.
//!
//! Each partial's level swings as it sweeps across a resonance, some rising while others fall
//! (Fletcher & Sanders 1967; Mellody & Wakefield 1997; Gough 2005).

use crate::math::chance::Chance;
use crate::math::fast_math::sine_of_turn;
use crate::patch::setup::Setup;

/// A wind's level follows its pitch by 20 degrees.
const WIND_TURN: f64 = -20.0 / 360.0;

/// Where the body stands to the swing of the pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Level less pitch, turns.
    turn: f64,
    /// The fresh note whose place on the strings has yet to be drawn.
    fresh: Option<Chance>,
}

/// How the body moves at one moment, by the swing of a whole vibrato.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodySwing {
    /// How far it goes either way, 0 or above.
    pub reach: f64,
    /// Where it is, −reach..=reach.
    pub wave: f64,
}

impl BodySwing {
    /// It stands.
    pub const STILL: BodySwing = BodySwing { reach: 0.0, wave: 0.0 };

    /// The same of a swing of so much from end to end.
    #[inline]
    pub fn of(self, peak_to_peak: f64) -> BodySwing {
        let half = 0.5 * peak_to_peak;
        BodySwing { reach: half * self.reach, wave: half * self.wave }
    }
}

impl Body {
    /// Nothing swings.
    pub const STILL: Body = Body { turn: WIND_TURN, fresh: None };

    /// A fresh note: the string is stopped elsewhere, and meets other resonances. A slur goes on.
    pub fn change(&mut self, chance: Chance, is_joined: bool) {
        if !is_joined {
            self.fresh = Some(chance);
        }
    }

    /// The swing begins.
    pub fn begin(&mut self, setup: &Setup) {
        if let Some(chance) = self.fresh.take() {
            let is_bowed = setup.patch.strings.count > 0;
            self.turn = if is_bowed { chance.turn(setup.patch.seed) } else { WIND_TURN };
        }
    }

    /// The swing at a turn of the pitch's sine, so wide.
    #[inline]
    pub fn at(&self, turn: f64, reach: f64) -> BodySwing {
        BodySwing { reach, wave: reach * sine_of_turn(turn + self.turn) }
    }
}
