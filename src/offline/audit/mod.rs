//! What a live player could not play, found before the part goes out.
//!
//! Each rule stands in a file of its own and looks at the performed line as a [`Part`]. The rules
//! are those of DESIGN section 9. They know what hands and lungs do in general; the player knows
//! what one pair of hands can do.

// A finding, then the rules in the order in which a player would ask.
pub mod finding;

mod range;

pub mod drain;
mod stroke;

mod double_stop;
mod leap;
mod open_note;
pub mod slide;

pub mod written;

pub use finding::{Finding, Rule, Severity};
pub use written::{as_json, as_text};

use super::midi::{MetreMap, TempoMap};
use super::part::Part;
use super::take::Region;
use super::take::{self, PreparedTake};
use super::{Error, Settings};
use crate::profile::Instrument;
use finding::Found;

/// How finely the loudness is followed.
const CELL_MS: u32 = 1;

/// Every finding of a take, and what the user should know, one sentence each.
#[derive(Clone, Debug, PartialEq)]
pub struct Audit {
    /// In order of lines and time.
    pub findings: Vec<Finding>,
    /// Sentences.
    pub notices: Vec<String>,
}

/// Looks at every line of the take in `bytes` as a player of `instrument` would.
///
/// # Errors
/// As [`super::shape_bytes`].
pub fn audit_bytes(
    bytes: &[u8],
    settings: &Settings,
    instrument: &Instrument,
) -> Result<Audit, Error> {
    let mut take = take::prepare(bytes, settings)?;
    let notices = std::mem::take(&mut take.notices);
    let PreparedTake { file, factor, clock, lines, region, .. } = &take;
    let (factor, region) = (*factor, *region);
    let meter = MetreMap::of(file);
    let mut findings = Vec::new();
    for line in lines {
        let asked = take.asked(line, settings);
        let part = Part::play(file, clock, &settings.patch, line, &asked, CELL_MS, |_| {})?;
        let track = (lines.len() > 1).then_some(line.track + 1);
        let place = Placing { clock, meter: meter.as_ref(), factor, region, track };
        findings.extend(
            look_at(&part, instrument).into_iter().filter_map(|it| place.finding(&part, it)),
        );
    }
    Ok(Audit { findings, notices })
}

/// All that the rules find in a part, in order of time.
pub fn look_at(part: &Part, instrument: &Instrument) -> Vec<Found> {
    let mut found = range::look(part, instrument);
    found.extend(open_note::look(part, instrument));
    found.extend(stroke::look(part, instrument));
    found.extend(slide::look(part, instrument));
    found.extend(leap::look(part, instrument));
    found.extend(double_stop::look(part, instrument));
    found.sort_by(|one, other| one.at_s.total_cmp(&other.at_s).then(one.rule.cmp(&other.rule)));
    found
}

/// From seconds to the bars and ticks of the file as the user has it.
pub(super) struct Placing<'a> {
    pub clock: &'a TempoMap,
    pub meter: Option<&'a MetreMap>,
    /// How much finer the ticks were made.
    pub factor: u64,
    pub region: Region,
    /// Said where there are several lines.
    pub track: Option<usize>,
}

impl Placing<'_> {
    /// The finding at its place, if it lies in the region.
    pub fn finding(&self, part: &Part, found: Found) -> Option<Finding> {
        let note = &part.notes[found.note];
        let tick = match found.at_s == note.start_s {
            true => note.tick,
            false => self.clock.tick_at(found.at_s) as u64,
        };
        let position = self.meter.map(|meter| meter.position(tick));
        let sentence = match self.track {
            Some(track) => format!("Track {track}: {}", found.sentence),
            None => found.sentence,
        };
        self.region.holds(tick).then(|| Finding {
            rule: found.rule,
            bar: position.map(|(bar, _)| bar),
            beat: position.map(|(_, beat)| beat),
            tick: tick / self.factor,
            key: note.key,
            severity: found.severity,
            sentence,
            suggestion: found.suggestion,
        })
    }
}
