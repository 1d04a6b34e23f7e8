//! What one player of a divisi has of his own: vibrato a little faster, wider and sooner than another's.

use crate::math::chance::Chance;
use crate::patch::setup::Setup;
use crate::patch::{VoiceKind, VoicesPatch};

/// How far rate and width (shares) and the moment of the onset (seconds) lie from the instrument's
/// own, at most (DESIGN 4.8; common practice, no source).
const RATE_SHARE_MAX: f64 = 0.04;
const WIDTH_SHARE_MAX: f64 = 0.15;
const ONSET_S_MAX: f64 = 0.040;
/// Keeps a player's draws apart from those of notes, whose places count from 0 or have the top bit.
const PLACE: u64 = 0x3F00_0000_0000_0000;

/// How a voice differs from the instrument, for as long as it plays under one seed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Character {
    /// Factor of the rate.
    pub rate: f64,
    /// Factor of the width.
    pub width: f64,
    /// How much later the vibrato begins, seconds; sooner below 0.
    pub onset_s: f64,
}

impl Character {
    /// As the instrument's file says.
    pub const PLAIN: Character = Character { rate: 1.0, width: 1.0, onset_s: 0.0 };

    /// The voice of this number, from 0.
    pub fn of(setup: &Setup, voice: u8) -> Character {
        let VoicesPatch { kind, spread, .. } = setup.patch.voices;
        if kind != VoiceKind::Divisi {
            return Character::PLAIN;
        }
        let draw = |key: u8| {
            let turn = Chance { voice, place: PLACE, key }.turn(setup.patch.seed);
            (2.0 * turn - 1.0) * spread
        };
        Character {
            rate: 1.0 + RATE_SHARE_MAX * draw(0),
            width: 1.0 + WIDTH_SHARE_MAX * draw(1),
            onset_s: ONSET_S_MAX * draw(2),
        }
    }
}
