//! Which of the shipped instruments a line could be: by its name, its program, or its range alone.

use serde::Serialize;

use super::notes::LookedNotes;
use super::part::ProgramChoice;
use super::program_name::instrument_of;
use crate::engine::patch::NotesPatch;
use crate::profile::shipped::{SHIPPED, instruments_called};
use crate::profile::{FileKind, Instrument, load};

/// A name or a program is believed if at least this share of the notes can be played.
const PLAYABLE_SHARE_MIN: f64 = 0.5;

/// Which instrument a line could be.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ToldInstrument {
    /// The shipped instrument; `None` if it cannot be told.
    pub id: Option<&'static str>,
    /// By what: `name`, `program` or `range`; `None` if it cannot be told.
    pub by: Option<&'static str>,
    /// The shipped instruments that it could be, where it cannot be told: their range holds every
    /// note, or one of them holds the most.
    pub candidates: Vec<&'static str>,
    /// Notes outside the range of the instrument, or of the one that holds the most.
    pub outside_notes: usize,
    /// Of these the ones so far outside that `shape` takes them for another player's and lets them
    /// pass untouched.
    pub foreign_notes: usize,
}

/// The shipped instruments and the keys that each can play, read once a file.
pub struct InstrumentRanges(Vec<(&'static str, NotesPatch)>);

impl InstrumentRanges {
    /// In the order of the list.
    pub fn load() -> InstrumentRanges {
        let instruments = SHIPPED.iter().filter(|file| file.kind == FileKind::Instrument);
        let range = |id| {
            let profile = load::<Instrument>(id).ok()?.profile;
            let (lowest_key, highest_key) = profile.range.hard_keys;
            Some((id, NotesPatch { lowest_key, highest_key, voice_count: profile.voice_count }))
        };
        InstrumentRanges(instruments.filter_map(|file| range(file.id)).collect())
    }

    /// Which instrument a line is. `titles` are the names of its track.
    pub fn tell(
        &self,
        titles: &[&str],
        programs: &[ProgramChoice],
        notes: &LookedNotes,
    ) -> ToldInstrument {
        let fitting = |ids: Vec<&'static str>| -> Option<&'static str> {
            let ids = ids.into_iter().filter(|id| self.is_playable(id, notes));
            let all: Vec<&str> = ids.collect();
            let whole = all.iter().copied().filter(|id| self.outside(id, notes) == 0);
            let whole: Vec<&str> = whole.collect();
            match (&all[..], &whole[..]) {
                ([only], _) | (_, [only]) => Some(only),
                _ => None,
            }
        };
        let by_name = titles.iter().find_map(|title| fitting(instruments_called(title)));
        // One program tells; several are an instrument that changes.
        let by_program = || match programs {
            [ProgramChoice { program, name: Some(_), .. }] => {
                fitting(instrument_of(*program).into_iter().collect())
            }
            _ => None,
        };
        let holds = |(id, _): &&(&'static str, NotesPatch)| self.outside(id, notes) == 0;
        let mut candidates: Vec<&str> = self.0.iter().filter(holds).map(|(id, _)| *id).collect();
        // What calls itself something else is not what its range alone fits.
        let by_range = || match candidates[..] {
            [only] if programs.is_empty() => Some(only),
            _ => None,
        };
        let (id, by) = match by_name {
            Some(id) => (Some(id), Some("name")),
            None => match by_program() {
                Some(id) => (Some(id), Some("program")),
                None => (by_range(), by_range().map(|_| "range")),
            },
        };
        if candidates.is_empty() {
            let ids = self.0.iter().map(|(id, _)| *id);
            candidates.extend(ids.min_by_key(|id| self.outside(id, notes)));
        }
        let best = id.or(candidates.first().copied());
        let foreign = |id| self.count(id, notes, |range, key| range.is_foreign(key));
        ToldInstrument {
            id,
            by,
            candidates: if id.is_some() { Vec::new() } else { candidates },
            outside_notes: best.map_or(0, |id| self.outside(id, notes)),
            foreign_notes: best.map_or(0, foreign),
        }
    }

    fn is_playable(&self, id: &str, notes: &LookedNotes) -> bool {
        let outside = self.outside(id, notes) as f64;
        notes.notes as f64 - outside >= PLAYABLE_SHARE_MIN * notes.notes as f64
    }

    fn outside(&self, id: &str, notes: &LookedNotes) -> usize {
        self.count(id, notes, |range, key| !(range.lowest_key..=range.highest_key).contains(&key))
    }

    /// How many notes are so for an instrument; all of them for one that is not there.
    fn count(
        &self,
        id: &str,
        notes: &LookedNotes,
        is_so: impl Fn(&NotesPatch, u8) -> bool,
    ) -> usize {
        let Some((_, range)) = self.0.iter().find(|(own, _)| *own == id) else {
            return notes.notes;
        };
        let so = notes.struck.iter().enumerate().filter(|(key, _)| is_so(range, *key as u8));
        so.map(|(_, count)| *count).sum()
    }
}
