//! Which hand plays: where the gesture comes from and how its travel reads.

use super::switch::ARTICULATIONS_MAX;
use crate::math::curve::Curve;

/// Where the gesture comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Controller 0–119, seven bits.
    Controller(u8),
    /// Controller n (0–31) with its fine half n + 32, fourteen bits.
    ControllerPair(u8),
    /// Channel pressure (on any channel, so an MPE member's too).
    ChannelPressure,
    /// Poly pressure of the newest held note.
    PolyPressure,
    /// The bend wheel: 0 lowest, 0.5 centre, 1 highest.
    PitchBend,
    /// Only the automated parameter of the plugin.
    Parameter,
    /// Controller 74 on the channel of the newest held note (MPE timbre).
    MpeTimbre,
    /// Channel pressure on the channel of the newest held note (MPE pressure).
    MpePressure,
}

impl Source {
    /// Each note brings its own values, so that several lines have a gesture each.
    pub const fn is_per_note(self) -> bool {
        matches!(self, Source::PolyPressure | Source::MpeTimbre | Source::MpePressure)
    }

    /// Pressure, which falls to 0 at each note-off.
    pub const fn is_pressure(self) -> bool {
        matches!(self, Source::ChannelPressure | Source::PolyPressure | Source::MpePressure)
    }
}

/// How the conditioned travel becomes the gesture.
// A patch holds no pointers, so the large one is not boxed.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "there is no heap to box it on")]
pub enum Response {
    /// A monotone cubic from 0..=1 to 0..=1.
    Points(Curve),
    /// (e^{kx} − 1)/(e^k − 1), k in −6..=6; 0 is linear.
    Exponential(f64),
}

/// The player's own controller (DESIGN 4.1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandPatch {
    /// Where the gesture comes from.
    pub source: Source,
    /// The source reaches the receiver too, instead of being consumed.
    pub source_passes: bool,
    /// The player blows: accents come from the breath, and a breath gap is articulation.
    pub is_breath: bool,
    /// Raw value that counts as 0, share of the source's whole range.
    pub low: f64,
    /// Raw value that counts as 1; above `low`.
    pub high: f64,
    /// The controller is turned round: raw `low` is full.
    pub is_inverted: bool,
    /// Share of the travel that still counts as rest, 0..=0.4.
    pub dead_zone_rest: f64,
    /// Share of the travel that already counts as full, 0..=0.4.
    pub dead_zone_full: f64,
    /// The gesture while the controller has never moved, 0..=1.
    pub rest: f64,
    /// The shape of the response.
    pub response: Response,
    /// Heaviness of the bow arm: scales the smoothing times, 0.5..=3.
    pub weight: f64,
    /// The keys that choose the articulations and never sound.
    pub articulation_keys: [Option<u8>; ARTICULATIONS_MAX],
}

impl HandPatch {
    /// The articulation that a key chooses.
    pub fn articulation_of(&self, key: u8) -> Option<u8> {
        let is_own = |own: &Option<u8>| *own == Some(key);
        self.articulation_keys.iter().position(is_own).map(|place| place as u8)
    }
}
