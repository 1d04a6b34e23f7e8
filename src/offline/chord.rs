//! Which notes are struck together: a hand is never quite even, so a chord's notes may come a little apart.

/// A note this soon after the last belongs to its chord (DESIGN 4.2).
pub const CHORD_S: f64 = 0.025;
/// Times are compared to a tenth of a millisecond, as the engine compares them.
const GRAIN_S: f64 = 0.000_1;

/// Seconds to the nearest tenth of a millisecond.
pub fn grain(seconds: f64) -> f64 {
    (seconds / GRAIN_S).round() * GRAIN_S
}
