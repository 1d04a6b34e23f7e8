//! A rehearsal room for the engine alone: three instruments, two receivers, any hand.
#![allow(dead_code, reason = "each test binary uses its own part")]

pub use crate::room::*;

use polso_engine::patch::{Patch, Source};

/// A patch of an instrument and a target, played by a wheel, even as a machine.
pub fn patch(instrument: &str, target: &str) -> Patch {
    patch_with(instrument, target, Source::Controller(1), 1, 0.0)
}

/// A patch with every choice.
pub use crate::shipped::shipped as patch_with;
