//! What stands on the player's page: a line as performed, its bows or breaths, and what was found in it.

use crate::offline::audit::budget::BudgetSpan;
use crate::offline::audit::finding::RuleHit;
use crate::offline::audit::review::HitPlace;
use crate::offline::midi::{MetreMap, TempoMap};
use crate::offline::performed_notes::PerformedNote;
use crate::profile::Instrument;
use crate::profile::instrument::Budget;

/// What was found, at its place.
pub struct PageFinding<'a> {
    pub hit: &'a RuleHit,
    pub place: HitPlace,
    /// Of its note.
    pub key: u8,
}

/// Everything on the page.
pub struct PageContent<'a> {
    pub notes: &'a [PerformedNote],
    pub instrument: &'a Instrument,
    /// Strokes or breaths.
    pub spans: &'a [BudgetSpan],
    /// In order of time.
    pub findings: &'a [PageFinding<'a>],
    pub clock: &'a TempoMap,
    pub meter: Option<&'a MetreMap>,
}

impl PageContent<'_> {
    /// The player blows.
    pub fn is_wind(&self) -> bool {
        matches!(self.instrument.budget, Budget::Breath { .. })
    }
}
