//! The finest time that the player's decisions tell apart.

/// Times between events are compared to a tenth of a millisecond, so that a decision depends
/// neither on the sample rate nor on the place in the song.
const GRAIN_PER_S: f64 = 10_000.0;

/// A time between two events, to a tenth of a millisecond.
pub fn grain(seconds: f64) -> f64 {
    libm::round(seconds * GRAIN_PER_S) / GRAIN_PER_S
}
