//! Articulations that a take asks for: by a text, a marker or a cue point where they begin.
//!
//! `articulation: pizzicato` holds from there on until the next one, in the track of the notes, or
//! in one without notes for every line. What the hand's own keys choose is in the take as notes.

use std::fmt;

use super::line::Line;
use super::midi::{File, Meter};
use super::perform::{Asked, Fed, Performance};
use super::shape::Take;
use super::text::{self, Text};
use super::{Error, Settings};
use crate::engine::event::Message;
use crate::engine::patch::ChoicePatch;
use crate::profile::articulation::{NAMES, name, place};

/// How such a text begins.
const HEAD: &str = "articulation";
/// A note that begins a little before the text has the articulation already, within this share
/// of a beat: hands are not on the grid.
const NEAR_BEATS: f64 = 0.125;

/// The most changes that texts ask of all lines together; a text in a track without notes is for
/// every line.
const TOLD_COUNT_MAX: usize = 250_000;

/// An articulation and from where it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chosen {
    /// From this tick on.
    pub tick: u64,
    /// Where it is written; a note a little before has it already.
    pub written_tick: u64,
    /// Its place in the common list.
    pub articulation: u8,
}

/// An articulation that a text names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named {
    tick: u64,
    /// The text's track, if it has notes.
    track: Option<usize>,
    articulation: u8,
}

/// Every articulation that `texts` name for the lines. `factor` is how much finer the file's
/// ticks are than the take's.
///
/// # Errors
/// [`Error::Words`] for a name that there is not, [`Error::TooMuchAsked`].
pub fn gather(texts: &[Text], lines: &[Line], factor: u64) -> Result<Vec<Named>, Error> {
    let mut named = Vec::new();
    let mut told_count = 0;
    for &Text { tick, track, own_track, words } in texts {
        let Some(word) = asked(words) else { continue };
        let articulation = place(word).ok_or_else(|| Error::Words {
            place: text::place(track, tick, factor),
            what: format!("articulation is `{word}`; allowed is {}", NAMES.join(", ")),
        })?;
        named.push(Named { tick, track: own_track, articulation });
        told_count += if own_track.is_some() { 1 } else { lines.len() };
        if told_count > TOLD_COUNT_MAX {
            let what = "changes of the articulation";
            return Err(Error::TooMuchAsked { what, count_max: TOLD_COUNT_MAX });
        }
    }
    named.sort_by_key(|named| named.tick);
    Ok(named)
}

/// The word of a text that names an articulation.
fn asked(text: &str) -> Option<&str> {
    let (head, word) = text.trim().split_once(':')?;
    head.trim_end().eq_ignore_ascii_case(HEAD).then_some(word.trim())
}

/// The articulations of one line that texts name.
pub fn of_line(
    file: &File,
    meter: Option<&Meter>,
    line: &Line,
    named: &[Named],
    settings: &Settings,
) -> Vec<Chosen> {
    let own = named.iter().filter(|it| it.track.is_none_or(|track| track == line.track));
    if own.clone().next().is_none() {
        return Vec::new();
    }
    let notes = line.notes(file, &settings.patch.hand);
    let begins = |tick: u64| {
        let near = meter.map_or(0.0, |meter| NEAR_BEATS * meter.beat_ticks(tick));
        let next = notes.partition_point(|(own, _)| *own < tick);
        let before = next.checked_sub(1).map(|last| notes[last].0);
        let before = before.filter(|own| (tick - own) as f64 <= near);
        let after = notes.get(next).map_or(u64::MAX, |(own, _)| *own);
        before.filter(|own| tick - own < after - tick).unwrap_or(tick)
    };
    let chosen = |&Named { tick, articulation, .. }: &Named| Chosen {
        tick: begins(tick),
        written_tick: tick,
        articulation,
    };
    own.map(chosen).collect()
}

/// A change of the articulation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    beat: String,
    articulation: u8,
    played: Option<u8>,
}

impl Change {
    /// The receiver plays something else.
    pub fn is_lacking(&self) -> bool {
        self.played != Some(self.articulation)
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Change { beat, articulation, played } = self;
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
pub(super) fn changes(
    asked: &Asked,
    performance: &Performance,
    take: &Take,
    settings: &Settings,
) -> Vec<Change> {
    let patch = settings.patch.target.articulation;
    let key = |message: Message| match message {
        Message::NoteOn { key, .. } => settings.patch.hand.articulation_of(key),
        _ => None,
    };
    let by_key = |event: &Fed| {
        let (tick, articulation) = (event.tick, key(event.message)?);
        Some(Chosen { tick, written_tick: tick, articulation })
    };
    let mut all = asked.articulations.clone();
    all.extend(performance.switches.iter().filter_map(by_key));
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
            let beat = text::beat(take.meter.as_ref(), written_tick, take.factor);
            let played = is_told.then(|| patch.played(articulation));
            changes.push(Change { beat, articulation, played });
        }
    }
    // One sentence says it all of a receiver that is told none.
    changes.truncate(if is_told { usize::MAX } else { 1 });
    changes
}
