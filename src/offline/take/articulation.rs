//! Articulations that a take asks for: by a text, a marker or a cue point where they begin.
//!
//! `articulation: pizzicato` holds from there on until the next one, in the track of the notes, or
//! in one without notes for every line. What the hand's own keys choose is in the take as notes.

use super::line::TakeLine;
use super::settings::Settings;
use super::text::{self, Text};
use crate::offline::error::Error;
use crate::offline::midi::{File, MetreMap};
use crate::profile::articulation::{NAMES, place};

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
pub fn gather(texts: &[Text], lines: &[TakeLine], factor: u64) -> Result<Vec<Named>, Error> {
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
pub(in crate::offline) fn asked(text: &str) -> Option<&str> {
    let (head, word) = text.trim().split_once(':')?;
    head.trim_end().eq_ignore_ascii_case(HEAD).then_some(word.trim())
}

/// The articulations of one line that texts name.
pub fn of_line(
    file: &File,
    metre: Option<&MetreMap>,
    line: &TakeLine,
    named: &[Named],
    settings: &Settings,
) -> Vec<Chosen> {
    let own = named.iter().filter(|it| it.track.is_none_or(|track| track == line.track));
    if own.clone().next().is_none() {
        return Vec::new();
    }
    let notes = line.notes(file, &settings.patch);
    let begins = |tick: u64| {
        let near = metre.map_or(0.0, |metre| NEAR_BEATS * metre.beat_ticks(tick));
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
