//! What an instrument sounds like: its resonances, its source, its noise, how it begins and ends.
//!
//! Where a number stands in a publication, the table names it; everything else is our judgement, made
//! by looking at recorded notes of a violin, a cello and a flute (npm `tonejs-instrument-*`, CC-BY 3.0)
//! and, for what has no recordings here, by likeness.

mod bowed;
mod flute;
mod reed;

/// A broad or narrow place of the spectrum that is stronger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resonance {
    /// Where, Hz.
    pub hz: f64,
    /// How much stronger, decibels.
    pub gain_db: f64,
    /// How narrow: its middle over its width at half its decibels.
    pub q: f64,
}

/// A pair of values: played softest, and loudest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// At brightness 0.
    pub soft: f64,
    /// At brightness 1.
    pub loud: f64,
}

impl Span {
    /// Straight between the two.
    pub(crate) fn at(&self, brightness: f64) -> f64 {
        self.soft + (self.loud - self.soft) * brightness
    }
}

/// The rush of hair or air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoiseTimbre {
    /// How loud beside the tone, decibels.
    pub level_db: Span,
    /// The middle of its band, Hz.
    pub hz: f64,
    /// How narrow the band is.
    pub q: f64,
    /// How much of it comes once a period, as the string slips or the reed opens, 0..=1.
    pub pulse: f64,
    /// How much louder at a fresh note, decibels.
    pub onset_db: f64,
    /// How long that takes to die away, seconds.
    pub onset_s: f64,
}

/// An instrument's sound. Any thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timbre {
    /// The instruments that it is for, by the ids of their files.
    pub ids: &'static [&'static str],
    /// The lowest key of the first of them: what has no row of its own takes the nearest of its kind.
    pub lowest_key: u8,
    /// Body or bore.
    pub resonances: &'static [Resonance],
    /// Below this the body hardly radiates, Hz.
    pub low_cut_hz: f64,
    /// How steeply, decibels an octave.
    pub low_cut_db: f64,
    /// From here up the resonances are too many to be named, and stand for a drawn relief, Hz.
    pub dense_hz: f64,
    /// How far that goes up and down, decibels.
    pub dense_db: f64,
    /// How the source falls with the number of the partial, decibels an octave.
    pub slope_db: f64,
    /// From here up the spectrum falls more steeply, Hz.
    pub knee_hz: Span,
    /// How steeply, decibels an octave.
    pub knee_db: f64,
    /// How much weaker even partials are, decibels, well below `even_hz`.
    pub even_db: f64,
    /// There they have grown as strong as the odd ones, Hz.
    pub even_hz: f64,
    /// Its noise.
    pub noise: NoiseTimbre,
    /// From nothing to full at a fresh note, seconds.
    pub attack_s: f64,
    /// From full to a third after the off, seconds.
    pub release_s: f64,
    /// How far a tone dips as it is joined quickly, 0..=1; the slower modes dip less.
    pub join_dip: f64,
}

impl Timbre {
    /// The sound of an instrument by the id of its file, or else, by whether it is bowed and its
    /// lowest key, that of the nearest of its kind. Any thread.
    pub fn of(id: &str, is_bowed: bool, lowest_key: u8) -> &'static Timbre {
        let all = || bowed::ALL.iter().chain(flute::ALL).chain(reed::ALL);
        if let Some(own) = all().find(|timbre| timbre.ids.contains(&id)) {
            return own;
        }
        let kin = if is_bowed { bowed::ALL } else { flute::ALL };
        let off = |timbre: &&Timbre| timbre.lowest_key.abs_diff(lowest_key);
        kin.iter().min_by_key(off).unwrap_or(&bowed::ALL[0])
    }
}

/// Shorthand for the tables.
const fn peak(hz: f64, gain_db: f64, q: f64) -> Resonance {
    Resonance { hz, gain_db, q }
}
