//! The finest time that the player's decisions tell apart.
//!
//! Times are sums and differences of binary fractions, which differ in their last bit from place to
//! place in a song. A decision that compares two events to a tenth of a millisecond, or a tick to a
//! moment to a millionth, falls the same way in every repeat of a bar and at every sample rate.

/// Grains in a second: a tenth of a millisecond each.
const GRAINS_PER_S: f64 = 10_000.0;
/// A moment and a tick this close are one: a thousand times what sums of times stray by, and a
/// fifth of the shortest frame.
pub const SAME_S: f64 = 1e-6;

/// A time between two events, to a tenth of a millisecond.
pub fn grain(seconds: f64) -> f64 {
    libm::round(seconds * GRAINS_PER_S) / GRAINS_PER_S
}

/// A time has come, or is so near that only the sums stray.
#[inline]
pub fn is_reached(now_s: f64, due_s: f64) -> bool {
    now_s >= due_s - SAME_S
}
