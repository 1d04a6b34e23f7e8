//! How a bow or a breath is spent while the line sounds, and where it begins anew.

use crate::engine::patch::Patch;
use crate::offline::Error;
use crate::offline::midi::{File, TempoMap};
use crate::offline::perform::{Asked, KeptMessages, RATE_HZ, Raster, perform};
use crate::offline::performed_notes::PerformedNote;
use crate::offline::take::line::TakeLine;
use crate::profile::instrument::Budget;

/// What a snatched breath gives back (DESIGN 9).
pub const QUICK_REFILL: f64 = 0.6;
/// Seconds and shares that differ by less are equal.
pub const NEAR: f64 = 1e-6;
const FRAMES_PER_MS: u32 = RATE_HZ / 1000;

/// One bow stroke, or what is played on one breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BudgetSpan {
    /// Its first note.
    pub first_note: usize,
    /// Its last note.
    pub last_note: usize,
    /// When it begins, seconds.
    pub start_s: f64,
    /// When its sound ends.
    pub end_s: f64,
    /// The share of the bow or breath that was gone at its start.
    pub spent_before: f64,
    /// The share gone at its end; above 1 it was not enough.
    pub spent: f64,
    /// When nothing was left, and the note that sounded then.
    pub empty: Option<(f64, usize)>,
}

/// How long a bow or breath lasts at a level, seconds: T_pp^(1−D) · T_ff^D.
pub fn lasts_s(budget: &Budget, level: f64) -> f64 {
    let (Budget::Bow { pp_s, ff_s } | Budget::Breath { pp_s, ff_s, .. }) = *budget;
    pp_s * libm::pow(ff_s / pp_s, level)
}

/// A line whose notes are known. It is played once more to hear how loud they are: levels of
/// hours need not be held then.
#[derive(Clone, Copy)]
pub struct KnownLine<'a> {
    /// The file.
    pub file: &'a File,
    /// Its clock.
    pub clock: &'a TempoMap,
    /// Who plays it.
    pub patch: &'a Patch,
    /// Which line it is.
    pub line: &'a TakeLine,
    /// What is asked of it.
    pub asked: &'a Asked,
    /// Its notes as performed, in order of time.
    pub notes: &'a [PerformedNote],
}

impl KnownLine<'_> {
    /// Spends the budget over the whole line, the level looked at every `cell_ms` (1 and up).
    /// `piece` gets each short piece of sounding time: its start and end, and the share spent at
    /// its end.
    ///
    /// # Errors
    /// As [`perform`].
    pub fn spend(
        &self,
        budget: &Budget,
        cell_ms: u32,
        piece: impl FnMut(f64, f64, f64),
    ) -> Result<Vec<BudgetSpan>, Error> {
        let KnownLine { file, clock, patch, line, asked, notes } = *self;
        let cell_frames = FRAMES_PER_MS * cell_ms.max(1);
        let cell_s = f64::from(cell_frames) / f64::from(RATE_HZ);
        let asked = Asked { kept: KeptMessages::None, ..asked.clone() };
        let mut spender = Spender::new(notes, budget, cell_s, piece);
        perform(file, clock, patch, line, &asked, Raster::Changes(cell_frames), |look| {
            if look.is_on_raster {
                let cell = (look.frame - 1) / u64::from(cell_frames);
                spender.look(cell as usize, look.view.dynamics as f32);
            }
        })?;
        Ok(spender.finish())
    }
}

/// Spends while the line is played.
struct Spender<'a, F> {
    notes: &'a [PerformedNote],
    budget: &'a Budget,
    /// How long a cell of time with one level is.
    cell_s: f64,
    piece: F,
    spans: Vec<BudgetSpan>,
    /// The next note.
    next: usize,
    /// What is not spent yet of the sounding time up to the next note.
    from_s: f64,
    end_s: f64,
    sounds_until_s: f64,
    /// The last level that was seen, and how long a bow or breath lasts at the last one spent at.
    level: Option<f32>,
    lasts_s: (f32, f64),
}

impl<'a, F: FnMut(f64, f64, f64)> Spender<'a, F> {
    fn new(
        notes: &'a [PerformedNote],
        budget: &'a Budget,
        cell_s: f64,
        piece: F,
    ) -> Spender<'a, F> {
        Spender {
            notes,
            budget,
            cell_s,
            piece,
            spans: Vec::new(),
            next: 0,
            from_s: 0.0,
            end_s: 0.0,
            sounds_until_s: f64::NEG_INFINITY,
            level: None,
            lasts_s: (f32::NAN, 0.0),
        }
    }

    /// The level of a cell. Cells that were left out before it had the level of the last one.
    fn look(&mut self, cell: usize, level: f32) {
        self.spend_until(cell, self.level.unwrap_or(level));
        self.spend_until(cell + 1, level);
        self.level = Some(level);
    }

    /// The last level stands on.
    fn finish(mut self) -> Vec<BudgetSpan> {
        self.spend_until(usize::MAX, self.level.unwrap_or(0.0));
        self.spans
    }

    /// Spends the sounding time before a cell, all at one level.
    fn spend_until(&mut self, cell_end: usize, level: f32) {
        loop {
            while self.from_s < self.end_s {
                let cell = ((self.from_s + NEAR * self.cell_s) / self.cell_s) as usize;
                if cell >= cell_end {
                    return;
                }
                let to_s = ((cell + 1) as f64 * self.cell_s).min(self.end_s);
                if self.lasts_s.0 != level {
                    self.lasts_s = (level, lasts_s(self.budget, level.into()));
                }
                self.spend(to_s);
            }
            if !self.begin_next() {
                return;
            }
        }
    }

    /// Spends one piece of time.
    fn spend(&mut self, to_s: f64) {
        let from_s = std::mem::replace(&mut self.from_s, to_s);
        let Some(span) = self.spans.last_mut() else { return };
        let before = span.spent;
        span.spent += (to_s - from_s) / self.lasts_s.1;
        if span.empty.is_none() && span.spent > 1.0 + NEAR {
            let share = ((1.0 - before) / (span.spent - before)).clamp(0.0, 1.0);
            span.empty = Some((from_s + share * (to_s - from_s), span.last_note));
        }
        (self.piece)(from_s, to_s, span.spent);
    }

    /// Goes on to the next note, with a new bow or breath if there is one; false after the last.
    fn begin_next(&mut self) -> bool {
        let Some(note) = self.notes.get(self.next) else { return false };
        if let Some(spent_before) = self.spent_before(note) {
            let (start_s, spent, empty) = (note.start_s, spent_before, None);
            let (first_note, last_note, end_s) = (self.next, self.next, start_s);
            self.spans.push(BudgetSpan {
                first_note,
                last_note,
                start_s,
                end_s,
                spent_before,
                spent,
                empty,
            });
        }
        let next_s = self.notes.get(self.next + 1).map_or(f64::INFINITY, |next| next.start_s);
        self.sounds_until_s = self.sounds_until_s.max(note.end_s);
        (self.from_s, self.end_s) = (note.start_s, self.sounds_until_s.min(next_s));
        if let Some(span) = self.spans.last_mut() {
            span.last_note = self.next;
            span.end_s = span.end_s.max(self.end_s);
        }
        self.next += 1;
        true
    }

    /// What is gone already of the new bow or breath that a note has; `None` if it has none.
    fn spent_before(&self, note: &PerformedNote) -> Option<f64> {
        let gap_s = note.start_s - self.sounds_until_s;
        match (self.spans.last(), *self.budget) {
            (None, _) => Some(0.0),
            (Some(_), Budget::Bow { .. }) => note.is_fresh.then_some(0.0),
            (Some(last), Budget::Breath { refill_quick_s, refill_full_s, .. }) => {
                if gap_s >= refill_full_s - NEAR {
                    Some(0.0)
                } else if gap_s >= refill_quick_s - NEAR {
                    // A player who has run out is empty, not less than empty.
                    Some((last.spent.min(1.0) - QUICK_REFILL).max(0.0))
                } else {
                    None
                }
            }
        }
    }
}
