//! What a take is shaped with: instrument, receiver and hand as plain numbers, and what the user asks.

use super::wish::WishTable;
use crate::engine::patch::Patch;
use crate::offline::midi::Bars;

/// Names and hashes of the three files, as the marker has them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Provenance {
    /// The instrument.
    pub instrument: String,
    /// The target.
    pub target: String,
    /// The hand.
    pub hand: String,
    /// The table of wishes, if there is one.
    pub wishes: Option<String>,
}

/// What a take is shaped with.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Everything the engine needs; the seed and the gesture's source too.
    pub patch: Patch,
    /// The instrument's names of its styles, in order.
    pub styles: Vec<String>,
    /// Where the patch came from.
    pub provenance: Provenance,
    /// The scale of the imperfection that is in the patch, 0..=2.
    pub imperfection: f64,
    /// The tracks to shape, from 1; empty is every line with a gesture, or the only line.
    pub tracks: Vec<usize>,
    /// The channels to shape, from 1; empty is all of them.
    pub channels: Vec<u8>,
    /// The bars to change; `None` is all.
    pub bars: Option<Bars>,
    /// What is asked of notes and stretches, beside what the take's own texts ask.
    pub wishes: WishTable,
    /// A file that was shaped before is peeled and shaped again instead of being refused.
    pub is_forced: bool,
}

impl Settings {
    /// Nothing is left to chance, so that no seed changes anything: no vibrato is uneven, and no
    /// string draws where its level stands to the pitch.
    pub fn is_without_chance(&self) -> bool {
        self.imperfection == 0.0 && self.patch.strings.count == 0
    }
}
