//! Measures the player's hand in thirty seconds: where the controller rests, where it is full, how it flutters.

use super::learn::raw;
use crate::engine::Message;
use crate::engine::patch::Source;

/// What the player is asked to do while the hand is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CalibrationStep {
    /// Leave the controller at rest.
    Rest,
    /// Move it to full and hold it there.
    Full,
    /// Move it freely.
    Free,
}

impl CalibrationStep {
    /// What to do now, in one sentence.
    pub const fn sentence(self) -> &'static str {
        match self {
            CalibrationStep::Rest => "Leave the controller at rest, and your hand on it.",
            CalibrationStep::Full => "Now move it to full and hold it there.",
            CalibrationStep::Free => "Now move it to and fro, slowly and all the way.",
        }
    }
}

/// How long each step takes, seconds; three of them make thirty.
const STEP_S: f64 = 10.0;
/// The first part of a step is the way to where the controller is to be, and does not count,
/// seconds.
const WAY_S: f64 = 3.0;

/// The thirty seconds in which the hand is measured.
#[derive(Clone, Debug)]
pub struct Calibration {
    source: Source,
    elapsed_s: f64,
    /// The values that count, of the first and of the second step.
    rest: Vec<f64>,
    full: Vec<f64>,
    /// How far it went in the third.
    lowest: f64,
    highest: f64,
}

/// What was measured of a hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredHand {
    /// Where it rests, share of the source's range.
    pub rest: f64,
    /// Where it is full.
    pub full: f64,
    /// How far it moves by itself while the hand only lies on it, share of the range.
    pub flutter: f64,
}

impl MeasuredHand {
    /// Full lies below rest.
    pub fn is_inverted(&self) -> bool {
        self.full < self.rest
    }

    /// How far it goes, share of the source's range.
    pub fn travel(&self) -> f64 {
        (self.full - self.rest).abs()
    }
}

impl Calibration {
    /// Begins to measure the hand on `source`. `present` is the controller's last value, share of
    /// its range, if it has moved already.
    pub fn begin(source: Source, present: Option<f64>) -> Calibration {
        let present = present.unwrap_or(0.0);
        let (lowest, highest) = (present, present);
        let (rest, full) = (vec![present], Vec::new());
        Calibration { source, elapsed_s: 0.0, rest, full, lowest, highest }
    }

    /// What to do now.
    pub fn step(&self) -> CalibrationStep {
        match self.elapsed_s {
            at_s if at_s < STEP_S => CalibrationStep::Rest,
            at_s if at_s < 2.0 * STEP_S => CalibrationStep::Full,
            _ => CalibrationStep::Free,
        }
    }

    /// Seconds that are left of the thirty.
    pub fn left_s(&self) -> f64 {
        (3.0 * STEP_S - self.elapsed_s).max(0.0)
    }

    /// Hears a message of the input; those of other controllers are passed over.
    pub fn hear(&mut self, message: Message) {
        let Some(value) = raw(self.source, message) else { return };
        match (self.step(), self.elapsed_s % STEP_S) {
            (CalibrationStep::Rest, at_s) if at_s >= WAY_S => self.rest.push(value),
            (CalibrationStep::Full, at_s) if at_s >= WAY_S => self.full.push(value),
            (CalibrationStep::Rest, _) => self.rest = vec![value],
            (CalibrationStep::Full, _) => self.full = vec![value],
            (CalibrationStep::Free, _) => {
                self.lowest = self.lowest.min(value);
                self.highest = self.highest.max(value);
            }
        }
    }

    /// `elapsed_s` seconds have gone by. What was measured, as soon as the thirty seconds are over.
    pub fn pass(&mut self, elapsed_s: f64) -> Option<MeasuredHand> {
        self.elapsed_s += elapsed_s;
        (self.elapsed_s >= 3.0 * STEP_S).then(|| self.measured())
    }

    /// What has been measured so far.
    pub fn measured(&self) -> MeasuredHand {
        let rest = middle(&self.rest).unwrap_or(0.0);
        let ends = [self.lowest, self.highest];
        let furthest = ends
            .into_iter()
            .max_by(|one, other| (one - rest).abs().total_cmp(&(other - rest).abs()));
        let full = middle(&self.full).or(furthest).unwrap_or(rest);
        let spread = |list: &[f64]| {
            let (low, high) =
                list.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
            if list.is_empty() { 0.0 } else { high - low }
        };
        MeasuredHand { rest, full, flutter: spread(&self.rest) }
    }
}

fn middle(list: &[f64]) -> Option<f64> {
    let mut sorted = list.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}
