//! How far two files may lie apart and still count as the same: steps, cents and milliseconds.

use std::str::FromStr;

/// What may stand after `--within`.
pub const TOLERANCE_RULE: &str =
    "a number from 0 to 16383 and its unit: steps, cents or ms, as in 2steps or 0.5ms";
/// A tolerance above the widest 14-bit value would make everything the same.
const MOST: f64 = 16_383.0;

/// What is not told as a difference.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tolerance {
    /// Of controllers, pressure, velocities: steps of 127.
    pub steps: f64,
    /// Of the bend, cents.
    pub cents: f64,
    /// Of times, milliseconds.
    pub ms: f64,
}

impl Tolerance {
    /// The wider of two, unit by unit.
    pub fn and(self, other: Tolerance) -> Tolerance {
        Tolerance {
            steps: self.steps.max(other.steps),
            cents: self.cents.max(other.cents),
            ms: self.ms.max(other.ms),
        }
    }
}

impl FromStr for Tolerance {
    type Err = String;

    fn from_str(text: &str) -> Result<Tolerance, String> {
        let unit_at = text.find(|letter: char| letter.is_ascii_alphabetic()).unwrap_or(text.len());
        let (number, unit) = text.split_at(unit_at);
        let value = number.trim().parse::<f64>().ok().filter(|it| (0.0..=MOST).contains(it));
        let none = Tolerance::default();
        match (value, unit) {
            (Some(steps), "steps") => Ok(Tolerance { steps, ..none }),
            (Some(cents), "cents") => Ok(Tolerance { cents, ..none }),
            (Some(ms), "ms") => Ok(Tolerance { ms, ..none }),
            _ => Err(format!("--within is `{text}`; allowed is {TOLERANCE_RULE}")),
        }
    }
}
