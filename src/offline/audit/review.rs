//! All rules on every line of a take: the line is played, looked at, and what is found gets its bar and beat.

use serde::Serialize;

use super::budget::{BudgetSpan, KnownLine};
use super::finding::{AuditFinding, RuleHit};
use super::{double_stop, leap, open_note, range, slide, stroke};
use crate::offline::peel::TakeBytes;
use crate::offline::perform::{RATE_HZ, Raster};
use crate::offline::performed_notes::{PerformedLine, PerformedNote, performed_notes};
use crate::offline::take::line::TakeLine;
use crate::offline::take::{self, PreparedTake};
use crate::offline::{Error, Settings};
use crate::profile::Instrument;

/// How finely the loudness is followed, milliseconds.
const CELL_MS: u32 = 1;
/// And the gesture, where notes are only open: once a cell. Elsewhere nobody asks for it.
const GESTURE: Raster = Raster::Changes(CELL_MS * RATE_HZ / 1000);
const NO_GESTURE: Raster = Raster::Changes(RATE_HZ);

/// Every finding of a take, and what the user should know, one sentence each.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Audit {
    /// In order of lines and time.
    pub findings: Vec<AuditFinding>,
    /// Sentences.
    #[serde(skip)]
    pub notices: Vec<String>,
}

/// Looks at every line of a take as a player of `instrument` would.
///
/// # Errors
/// As [`crate::offline::shape_bytes`].
pub fn audit_bytes<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
    instrument: &Instrument,
) -> Result<Audit, Error> {
    let mut take = take::prepare(take, settings)?;
    let notices = std::mem::take(&mut take.notices);
    let findings = audit_take(&take, settings, instrument, |_, _| {})?;
    Ok(Audit { findings, notices })
}

/// Looks at every line of a take; `also` sees each line before its findings get their places.
pub(in crate::offline) fn audit_take(
    take: &PreparedTake,
    settings: &Settings,
    instrument: &Instrument,
    mut also: impl FnMut(&TakeLine, &AuditedLine),
) -> Result<Vec<AuditFinding>, Error> {
    let mut findings = Vec::new();
    for line in &take.lines {
        let audited = AuditedLine::of(take, line, settings, instrument)?;
        also(line, &audited);
        let AuditedLine { notes, foreign, hits, .. } = audited;
        let places = HitPlaces { take, notes: &notes, foreign: &foreign };
        let found = hits.into_iter().filter_map(|hit| {
            let HitPlace { position, tick } = places.of(&hit)?;
            let key = places.note(&hit).key;
            let sentence = match take.lines.len() > 1 {
                true => format!("Track {}: {}", line.track + 1, hit.sentence),
                false => hit.sentence,
            };
            let (rule, severity, suggestion) = (hit.rule, hit.severity, hit.suggestion);
            let (bar, beat) = position.unzip();
            Some(AuditFinding { rule, bar, beat, tick, key, severity, sentence, suggestion })
        });
        findings.extend(found);
    }
    Ok(findings)
}

/// One line as performed, and what the rules find in it.
pub(in crate::offline) struct AuditedLine {
    /// In order of time.
    pub notes: Vec<PerformedNote>,
    /// Those far outside the instrument's range, which pass as another player's.
    pub foreign: Vec<PerformedNote>,
    /// Strokes or breaths.
    pub spans: Vec<BudgetSpan>,
    /// In order of time.
    pub hits: Vec<RuleHit>,
}

impl AuditedLine {
    /// Plays a line of a take and looks at it.
    pub fn of(
        take: &PreparedTake,
        line: &TakeLine,
        settings: &Settings,
        instrument: &Instrument,
    ) -> Result<AuditedLine, Error> {
        let PreparedTake { file, clock, .. } = take;
        let (patch, asked) = (&settings.patch, take.asked(line, settings));
        let raster = match (0..128).any(|key| patch.strings.is_forced_open(key)) {
            true => GESTURE,
            false => NO_GESTURE,
        };
        let PerformedLine { notes, foreign } =
            performed_notes(file, clock, patch, line, &asked, raster, |_| {})?;
        let known = KnownLine { file, clock, patch, line, asked: &asked, notes: &notes };
        let spans = known.spend(&instrument.budget, CELL_MS, |_, _, _| {})?;
        let mut hits = range::look(&notes, 0, instrument);
        hits.extend(range::look(&foreign, notes.len(), instrument));
        hits.extend(open_note::look(&notes, instrument));
        hits.extend(stroke::look(&spans, instrument));
        hits.extend(slide::look(&notes, instrument));
        hits.extend(leap::look(&notes, instrument));
        hits.extend(double_stop::look(&notes, instrument));
        hits.sort_by(|one, other| one.at_s.total_cmp(&other.at_s).then(one.rule.cmp(&other.rule)));
        Ok(AuditedLine { notes, foreign, spans, hits })
    }
}

/// Where what is found stands in the file as the user has it.
pub(in crate::offline) struct HitPlaces<'a> {
    pub take: &'a PreparedTake,
    /// Of the line.
    pub notes: &'a [PerformedNote],
    /// Of another player; hits count them on from the last of the line.
    pub foreign: &'a [PerformedNote],
}

/// A place in the user's own file.
pub(in crate::offline) struct HitPlace {
    /// Bar and beat, from 1; none where the file counts film frames.
    pub position: Option<(u64, u64)>,
    pub tick: u64,
}

impl HitPlaces<'_> {
    /// The note at which something was found.
    pub fn note(&self, hit: &RuleHit) -> &PerformedNote {
        self.notes.get(hit.note).unwrap_or_else(|| &self.foreign[hit.note - self.notes.len()])
    }

    /// The place of what was found, if it lies in the region.
    pub fn of(&self, hit: &RuleHit) -> Option<HitPlace> {
        let PreparedTake { clock, metre: meter, region, factor, .. } = self.take;
        let note = self.note(hit);
        let tick = match hit.at_s == note.start_s {
            true => note.tick,
            false => clock.tick_at(hit.at_s) as u64,
        };
        let position = meter.as_ref().map(|meter| meter.position(tick));
        region.holds(tick).then_some(HitPlace { position, tick: tick / factor })
    }
}
