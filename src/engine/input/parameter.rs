//! The controls that may be turned while the line plays, and how far each goes.

/// A value nearer to 0 than this is 0; it keeps what is scaled clear of denormals.
const VALUE_MIN: f64 = 1e-9;

/// A control that may be turned while the line plays, on top of what the files say. At its neutral
/// value each leaves the files as they are; a value beyond its range is taken at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Parameter {
    /// Factor of the hand's weight, 0.5..=3; neutral 1.
    Weight,
    /// The lowest level, share of the way from the instrument's floor to its ceiling, 0..=1;
    /// neutral 0.
    Floor,
    /// The highest level, likewise, never below the lowest; neutral 1.
    Ceiling,
    /// Factor of the vibrato's width, 0..=2; neutral 1.
    VibratoWidth,
    /// Factor of the vibrato's rate, 0.5..=2; neutral 1.
    VibratoRate,
    /// Factor of the wait before the vibrato starts, 0..=4; neutral 1.
    Onset,
    /// Position on the ordered list of styles, 0..=1, whatever the gesture says; below 0,
    /// neutral, the gesture decides.
    Style,
    /// Factor of the longest tail, 0..=2; neutral 1.
    Tail,
    /// Factor of the imperfection, 0..=2; neutral 1.
    Imperfection,
    /// Added to the patch's seed, whole, 0..=65535; neutral 0.
    Seed,
}

impl Parameter {
    /// Every control.
    pub const ALL: [Parameter; 10] = [
        Parameter::Weight,
        Parameter::Floor,
        Parameter::Ceiling,
        Parameter::VibratoWidth,
        Parameter::VibratoRate,
        Parameter::Onset,
        Parameter::Style,
        Parameter::Tail,
        Parameter::Imperfection,
        Parameter::Seed,
    ];

    /// The lowest, the neutral and the highest value.
    pub const fn range(self) -> (f64, f64, f64) {
        match self {
            Parameter::Weight => (0.5, 1.0, 3.0),
            Parameter::Floor => (0.0, 0.0, 1.0),
            Parameter::Ceiling => (0.0, 1.0, 1.0),
            Parameter::VibratoRate => (0.5, 1.0, 2.0),
            Parameter::Onset => (0.0, 1.0, 4.0),
            Parameter::Style => (-1.0, -1.0, 1.0),
            Parameter::VibratoWidth | Parameter::Tail | Parameter::Imperfection => (0.0, 1.0, 2.0),
            Parameter::Seed => (0.0, 0.0, 65_535.0),
        }
    }

    /// A value within the range; NaN is neutral.
    pub fn within(self, value: f64) -> f64 {
        let (low, neutral, high) = self.range();
        if value.is_nan() {
            neutral
        } else if value.abs() < VALUE_MIN {
            0.0_f64.clamp(low, high)
        } else {
            value.clamp(low, high)
        }
    }
}
