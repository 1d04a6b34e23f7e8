//! A length of time as people read it: minutes and seconds.

use std::fmt;

/// Seconds as minutes and seconds.
pub struct Minutes(pub f64);

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 * 10.0).round() as u64;
        write!(f, "{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
    }
}
