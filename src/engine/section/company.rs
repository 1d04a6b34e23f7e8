//! What several voices of a channel have in common besides their lines: who leads, and whose key was taken up.

use crate::patch::VOICES_MAX;

/// What a section knows of its voices together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Company {
    /// The line that the outputs follow on a shared channel.
    pub leader: usize,
    /// What the shared bend still has of the one before, while another begins to lead, cents.
    pub carried_cents: f64,
    /// When a new key last went on from each line's.
    pub taken_s: [f64; VOICES_MAX],
}

impl Company {
    /// Nothing has been played.
    pub const NONE: Company =
        Company { leader: 0, carried_cents: 0.0, taken_s: [f64::NEG_INFINITY; VOICES_MAX] };
}
