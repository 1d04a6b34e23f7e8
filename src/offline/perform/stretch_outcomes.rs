//! What came of each wish for a stretch: obeyed, obeyed in part, or refused and why.

use std::ops::Range;

use super::performance::{Observation, RATE_HZ};
use crate::engine::patch::{Change, Retouch};
use crate::engine::reason::Reason;
use crate::engine::{Mode, NoteWish, Phrase, View};
use crate::offline::midi::TempoMap;
use crate::offline::take::Region;
use crate::offline::take::wish::Stretch;

/// Less than such a part of a stretch is not worth telling.
const HEARD_PARTS: u64 = 50;

/// What came of the stretches, written down while the line is played.
pub struct StretchOutcomes {
    all: Vec<StretchOutcome>,
    /// Where the phrase stood before.
    phrase: Phrase,
}

/// What came of one. It is counted in frames, notes or ends of phrases, as the change has it.
struct StretchOutcome {
    words: String,
    retouch: Retouch,
    frames: Range<u64>,
    obeyed: u64,
    refused: u64,
    /// Why not, as it was last.
    reason: Option<Reason>,
}

impl StretchOutcomes {
    /// Nothing has been played yet. Stretches outside the region have no outcome.
    pub fn new(stretches: &[Stretch], region: Region, clock: &TempoMap) -> StretchOutcomes {
        let is_inside = |it: &&Stretch| it.from_tick < region.end && it.to_tick > region.start;
        let outcome = |it: &Stretch| {
            let frame = |tick: u64| clock.frame_at(tick, RATE_HZ);
            StretchOutcome {
                words: it.words.clone(),
                retouch: it.retouch,
                frames: frame(it.from_tick)..frame(it.to_tick),
                obeyed: 0,
                refused: 0,
                reason: None,
            }
        };
        let all = stretches.iter().filter(is_inside).map(outcome).collect();
        StretchOutcomes { all, phrase: Phrase::Rest }
    }

    /// Looks at the line. `beat` is the song's, where a note has just begun.
    pub fn look(&mut self, look: &Observation, begun_beat: Option<f64>) {
        let view = look.view;
        let before = std::mem::replace(&mut self.phrase, view.phrase);
        let has_ended = before == Phrase::Sounding && view.phrase != Phrase::Sounding;
        for outcome in &mut self.all {
            if let Change::Notes(wish) = outcome.retouch.change {
                if begun_beat.is_some_and(|beat| outcome.retouch.means_note_at(beat)) {
                    look.began().for_each(|view| outcome.note(wish, view));
                }
            } else if outcome.frames.contains(&(look.frame - 1)) {
                outcome.moment(view, look.frames.into(), has_ended);
            }
        }
    }

    /// One sentence a wish: from where to where, what was asked, and what came of it.
    pub fn sentences(&self) -> impl Iterator<Item = String> + '_ {
        self.all.iter().map(|outcome| format!("{}: {}", outcome.words, outcome.came()))
    }
}

impl StretchOutcome {
    fn count(&mut self, count: u64, refused: Option<Reason>) {
        match refused {
            None => self.obeyed += count,
            Some(reason) => {
                self.refused += count;
                self.reason = Some(reason);
            }
        }
    }

    fn moment(&mut self, view: &View, frames: u64, has_ended: bool) {
        let sounds = view.phrase == Phrase::Sounding;
        match self.retouch.change {
            Change::Level(_) if sounds => self.count(frames, view.limited),
            Change::Width(_) | Change::Rate(_) if sounds => {
                let reason = view.vibrato_reason;
                self.count(frames, (reason != Reason::VibratoSounds).then_some(reason));
            }
            Change::Tail(_) if has_ended => {
                let reason = view.tail_reason;
                self.count(1, (reason != Reason::LongLastNote).then_some(reason));
            }
            _ => {}
        }
    }

    /// A note that is meant has begun.
    fn note(&mut self, wish: NoteWish, view: &View) {
        let is_refused = wish.mode().is_some_and(|mode| view.mode != mode);
        if is_refused && view.mode == Mode::Fresh {
            // It joins nothing, in whatever mode.
            self.reason.get_or_insert(view.legato_reason);
            return;
        }
        self.count(1, view.refused_wish.or(is_refused.then_some(view.legato_reason)));
    }

    /// What came of it.
    fn came(&self) -> String {
        let whole = self.obeyed + self.refused;
        let nothing = match self.retouch.change {
            Change::Tail(_) => "No phrase ends there.",
            _ => "No note sounds there.",
        };
        let why = self.reason.map_or(nothing, Reason::sentence);
        match self.retouch.change {
            _ if self.obeyed * HEARD_PARTS < whole.max(1) => format!("refused. {why}"),
            // A vibrato that waits for its moment is none the less as it was asked.
            Change::Width(_) | Change::Rate(_) => "obeyed".to_owned(),
            _ if self.refused * HEARD_PARTS < whole => "obeyed".to_owned(),
            Change::Level(_) => {
                let seconds = |frames: u64| frames as f64 / f64::from(RATE_HZ);
                format!("obeyed for {:.1} of {:.1} s. {why}", seconds(self.obeyed), seconds(whole))
            }
            Change::Tail(_) => format!("obeyed at {} of {whole} ends. {why}", self.obeyed),
            Change::Notes(_) => format!("obeyed by {} of {whole} notes. {why}", self.obeyed),
        }
    }
}
