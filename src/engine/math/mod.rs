//! Time, curves and chance: the mathematics under every layer.

pub mod chance;
pub mod clock;
pub mod curve;
pub mod fast_math;
pub mod glide;
pub mod grain;
