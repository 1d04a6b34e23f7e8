//! Where the articulation changes in a performed line, and what the receiver makes of it.

use std::fmt;

use super::inputs::chosen_by_keys;
use super::performance::{Asked, Performance};
use crate::engine::patch::ChoicePatch;
use crate::offline::take::articulation::Chosen;
use crate::offline::take::text;
use crate::offline::take::{PreparedTake, Settings};
use crate::profile::articulation::name;

/// A change of the articulation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ArticulationChange {
    beat: String,
    articulation: u8,
    played: Option<u8>,
}

impl ArticulationChange {
    /// The receiver plays something else.
    pub fn is_lacking(&self) -> bool {
        self.played != Some(self.articulation)
    }
}

impl fmt::Display for ArticulationChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ArticulationChange { beat, articulation, played } = self;
        let asked = name(*articulation);
        match played {
            Some(played) if played == articulation => write!(f, "{beat} {asked}"),
            Some(played) => {
                write!(f, "{beat} {asked}: the receiver has none, {} sounds instead", name(*played))
            }
            None => write!(f, "{beat} {asked}: the target tells the receiver none, here and later"),
        }
    }
}

/// Where the articulation of a performed line changes, by texts and by keys: what holds where the
/// region begins, and all inside.
pub fn articulation_changes(
    asked: &Asked,
    performance: &Performance,
    take: &PreparedTake,
    settings: &Settings,
) -> Vec<ArticulationChange> {
    let patch = settings.patch.target.articulation;
    let mut all = asked.articulations.clone();
    all.extend(chosen_by_keys(&settings.patch.hand, &performance.switches));
    all.sort_by_key(|chosen| chosen.tick);
    let is_told = patch.choice != ChoicePatch::Silent;
    let mut last = None;
    let mut changes = Vec::new();
    for Chosen { tick, written_tick, articulation } in all {
        if last.replace(articulation) != Some(articulation) && tick < take.region.end {
            if tick <= take.region.start {
                // Of those before the region the last one holds in it.
                changes.clear();
            }
            let beat = text::beat(take.metre.as_ref(), written_tick, take.factor);
            let played = is_told.then(|| patch.played(articulation));
            changes.push(ArticulationChange { beat, articulation, played });
        }
    }
    // One sentence says it all of a receiver that is told none.
    changes.truncate(if is_told { usize::MAX } else { 1 });
    changes
}
