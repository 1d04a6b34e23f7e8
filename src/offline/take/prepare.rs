//! Makes a take ready: fine ticks, its tempos and bars, the lines to play, the part to change.

use super::articulation::{self, Named};
use super::line::{self, TakeLine};
use super::present;
use super::region::Region;
use super::settings::Settings;
use super::text;
use super::wish::find::Found;
use super::wish::{self, Stretch, WishRequest, Wished};
use crate::offline::digest;
use crate::offline::error::Error;
use crate::offline::midi::{File, MetreMap, TempoMap, read};
use crate::offline::peel::{self, GivenBack, KeepingPlace, Peeled, TakeBytes};
use crate::offline::perform::performance::Asked;
use crate::profile::patch::SEED;

/// The most changes of the tempo, times lines: each line follows them all.
const TEMPO_COUNT_MAX: usize = 10_000_000;

/// A take made ready: fine ticks, its clock, the lines to play and the part to change.
pub struct PreparedTake {
    pub file: File,
    /// Of the take as it came.
    pub digest: String,
    pub factor: u64,
    pub clock: TempoMap,
    /// Its bars; `None` where ticks are film frames.
    pub metre: Option<MetreMap>,
    /// In the order of tracks and channels.
    pub lines: Vec<TakeLine>,
    pub region: Region,
    /// What is asked of single notes.
    pub requests: Vec<WishRequest>,
    /// The notes of each line that are meant.
    pub wished: Vec<Vec<Wished>>,
    /// The stretches of each line.
    pub stretches: Vec<Vec<Stretch>>,
    /// Where articulations are named.
    pub named: Vec<Named>,
    /// The take's own bytes, where it was peeled out of the file that was given.
    pub peeled: Option<Vec<u8>>,
    pub notices: Vec<String>,
}

impl PreparedTake {
    /// What is asked of a line's performance.
    pub fn asked(&self, line: &TakeLine, settings: &Settings) -> Asked {
        let place = self.lines.binary_search_by_key(&line.place(), TakeLine::place);
        let (wishes, stretches) = place.map_or_else(
            |_| Default::default(),
            |place| (self.wished[place].clone(), self.stretches[place].clone()),
        );
        let (file, metre) = (&self.file, self.metre.as_ref());
        let articulations = articulation::of_line(file, metre, line, &self.named, settings);
        Asked { wishes, stretches, articulations, ..Asked::default() }
    }
}

/// Reads a take and makes it ready for the settings.
///
/// # Errors
/// Any [`Error`] of reading the file, choosing the lines or the bars, or of its words.
pub fn prepare<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
) -> Result<PreparedTake, Error> {
    let mut notices = Vec::new();
    let (mut file, peeled) = unshaped(take.into(), settings, &mut notices)?;
    let source = settings.patch.hand.source;
    let choice = line::choose(&file, source, &settings.tracks, &settings.channels)?;
    notices.extend(choice.notices);
    let factor = file.division.factor();
    let digest = digest::of_take(&file);
    refine(&mut file, factor);
    let clock = TempoMap::of(&file);
    notices.extend(present::check(&file, &choice.lines, source, &clock)?);
    if settings.is_without_chance() && settings.patch.seed != SEED {
        let seed = settings.patch.seed;
        notices.push(format!("the seed {seed} changes nothing: the imperfection is 0"));
    }
    if clock.zero_tempo_count > 0 {
        let count = clock.zero_tempo_count;
        notices.push(format!("{count} tempos of 0 would stop time and are passed over"));
    }
    if clock.tempo_count().saturating_mul(choice.lines.len()) > TEMPO_COUNT_MAX {
        let what = "changes of the tempo";
        return Err(Error::TooMuchAsked { what, count_max: TEMPO_COUNT_MAX });
    }
    let metre = MetreMap::of(&file);
    let region = match settings.bars {
        Some(bars) => Region::of(&file, metre.as_ref(), bars)?,
        None => Region::ALL,
    };
    let lines = choice.lines;
    let texts = text::texts(&file, &lines);
    let Found { requests, wished, stretches } =
        wish::find::gather(&file, &clock, metre.as_ref(), &texts, &lines, factor, settings)?;
    let named = articulation::gather(&texts, &lines, factor)?;
    Ok(PreparedTake {
        file,
        digest,
        factor,
        clock,
        metre,
        lines,
        region,
        requests,
        wished,
        stretches,
        named,
        peeled,
        notices,
    })
}

/// The file, if it was never shaped; else refused, or peeled first: then the take's bytes too.
fn unshaped(
    take: TakeBytes,
    settings: &Settings,
    notices: &mut Vec<String>,
) -> Result<(File, Option<Vec<u8>>), Error> {
    let file = read::read(take.bytes)?;
    let Some(marker) = peel::find_shaped(&file, take.beside)? else { return Ok((file, None)) };
    if !settings.is_forced {
        return Err(Error::Shaped { marker });
    }
    if settings.bars.is_some() {
        return Err(Error::ShapedBars);
    }
    let GivenBack { bytes, peeled } = peel::give_back(file, take.beside)?;
    let first = "the file was shaped before and has been peeled first";
    notices.push(match peeled.place {
        KeepingPlace::File => first.to_owned(),
        KeepingPlace::Beside => format!("{first}, from the take beside it"),
    });
    notices.extend(peeled.other_revision());
    let Peeled { file, leftovers, notices: others, .. } = peeled;
    notices.extend(leftovers);
    notices.extend(others);
    Ok((file, Some(bytes)))
}

/// Makes the file's ticks `factor` times as fine.
fn refine(file: &mut File, factor: u64) {
    file.division = file.division.finer(factor);
    for track in &mut file.tracks {
        track.end_tick *= factor;
        track.events.iter_mut().for_each(|event| event.tick *= factor);
    }
}
