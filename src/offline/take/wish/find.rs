//! Finds the notes that are meant: a wish says where a note begins, and hands are not on the grid.

use std::collections::HashMap;

use super::place::{NO_BARS, place_of};
use super::place_stretches;
use super::request::{Span, Spot, Stretch, StretchRequest, WishRequest, Wished};
use super::words::{self, TextWish};
use crate::engine::Wish;
use crate::offline::error::Error;
use crate::offline::midi::{File, MetreMap, TempoMap};
use crate::offline::take::line::TakeLine;
use crate::offline::take::settings::Settings;
use crate::offline::take::text::{self, Text};
use crate::profile::pitch::key_name;

/// A played note is meant if it begins within this share of a beat: hands are not on the grid.
const NEAR_BEATS: f64 = 0.25;
/// A beat's fraction is a third or a seventh of many ticks; what comes within this is the same.
const GRAIN_TICKS: f64 = 0.001;
/// The most wishes for all lines, times lines: each is looked for in each.
const SOUGHT_COUNT_MAX: usize = 4_000_000;
/// The most notes with a wish, of all lines together. A wish without a key is for every note that
/// begins at its place.
const WISHED_COUNT_MAX: usize = 250_000;

/// What is asked of the lines of a take.
pub struct Found {
    /// The requests for single notes: those in the take's texts, then those of the table.
    pub requests: Vec<WishRequest>,
    /// The notes of each line that are meant, in order of ticks.
    pub wished: Vec<Vec<Wished>>,
    /// The stretches of each line, in the order of the requests.
    pub stretches: Vec<Vec<Stretch>>,
}

/// Everything that is asked of the lines, in `texts` and by the table. `factor` is how much finer the
/// file's ticks are than the take's.
///
/// # Errors
/// [`Error::Words`] for a text that cannot be read, a bar or beat that is not there, or a request
/// that no note of the lines meets; [`Error::TooMuchAsked`].
pub fn gather(
    file: &File,
    clock: &TempoMap,
    metre: Option<&MetreMap>,
    texts: &[Text],
    lines: &[TakeLine],
    factor: u64,
    settings: &Settings,
) -> Result<Found, Error> {
    let (mut requests, mut spans) = (Vec::new(), Vec::new());
    for &Text { tick, track, own_track, words } in texts {
        let fault = |what: String| Error::Words { place: text::place(track, tick, factor), what };
        let Some(wish) = words::read_text(words, &settings.styles).map_err(fault)? else {
            continue;
        };
        let place = text::place(track, tick, factor);
        match wish {
            TextWish::Notes(key, asked) => {
                let spot = Spot::Text { tick, track: own_track };
                let beat = text::beat(metre, tick, factor);
                requests.push(WishRequest { place, beat, spot, key, asked });
            }
            TextWish::Stretch(length, asked) => {
                let span = Span::Text { tick, track: own_track, length };
                let beats = format!("{} {length}", text::beat(metre, tick, factor));
                spans.push(StretchRequest { place, beats, span, asked });
            }
        }
    }
    requests.extend(settings.wishes.notes.iter().cloned());
    spans.extend(settings.wishes.stretches.iter().cloned());
    let end_tick = file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
    let wished = find_notes(file, metre, lines, &requests, end_tick, settings)?;
    let bars = metre.map(|metre| (metre, end_tick));
    let stretches = place_stretches::of_lines(&spans, bars, clock, lines)?;
    Ok(Found { requests, wished, stretches })
}

/// The notes of each line that the requests mean, all of which are met.
fn find_notes(
    file: &File,
    metre: Option<&MetreMap>,
    lines: &[TakeLine],
    requests: &[WishRequest],
    end_tick: u64,
    settings: &Settings,
) -> Result<Vec<Vec<Wished>>, Error> {
    if requests.is_empty() {
        return Ok(vec![Vec::new(); lines.len()]);
    }
    let (mut sought, mut fault) = (Vec::new(), None);
    for request in requests {
        match Sought::of(request.spot, metre, end_tick) {
            Ok(spot) => sought.push(spot),
            Err(what) => {
                fault = Some(Error::Words { place: request.place.clone(), what });
                break;
            }
        }
    }
    let wished = wished_of_lines(file, lines, requests, &sought, settings)?;
    let mut met = vec![false; sought.len()];
    wished.iter().flatten().for_each(|wished| met[wished.request] = true);
    if let Some(number) = met.iter().position(|met| !met) {
        let request = &requests[number];
        return Err(Error::Words { place: request.place.clone(), what: unmet_words(request) });
    }
    match fault {
        Some(fault) => Err(fault),
        None => Ok(wished),
    }
}

/// The notes of each line that the requests meet, in order of ticks and then of requests.
fn wished_of_lines(
    file: &File,
    lines: &[TakeLine],
    requests: &[WishRequest],
    sought: &[Sought],
    settings: &Settings,
) -> Result<Vec<Vec<Wished>>, Error> {
    let mut by_track: HashMap<usize, Vec<usize>> = HashMap::new();
    let mut of_all: Vec<usize> = Vec::new();
    for (number, sought) in sought.iter().enumerate() {
        match sought.track {
            Some(track) => by_track.entry(track).or_default().push(number),
            None => of_all.push(number),
        }
    }
    if of_all.len().saturating_mul(lines.len()) > SOUGHT_COUNT_MAX {
        let what = "wishes to look for";
        return Err(Error::TooMuchAsked { what, count_max: SOUGHT_COUNT_MAX });
    }
    let mut all = Vec::with_capacity(lines.len());
    let mut count = 0;
    for line in lines {
        let own = by_track.get(&line.track).into_iter().flatten().chain(&of_all);
        let mut wished: Vec<Wished> = Vec::new();
        if own.clone().next().is_some() {
            let index = NoteIndex::of(file, line, settings);
            for &number in own {
                index.meet(&sought[number], number, &requests[number], &mut wished);
                if count + wished.len() > WISHED_COUNT_MAX {
                    let what = "notes with a wish";
                    return Err(Error::TooMuchAsked { what, count_max: WISHED_COUNT_MAX });
                }
            }
        }
        wished.sort_by_key(|wished| (wished.tick, wished.request));
        count += wished.len();
        all.push(wished);
    }
    Ok(all)
}

fn unmet_words(request: &WishRequest) -> String {
    let key = request.key.map_or("note".to_owned(), key_name);
    match request.spot {
        Spot::Beat { bar, beat } => {
            format!("no {key} begins within a quarter of a beat of bar {bar}, beat {beat}")
        }
        Spot::Text { .. } => format!("no {key} begins within a quarter of a beat of this text"),
    }
}

/// Where the note of a request is looked for.
struct Sought {
    /// Only in this track.
    track: Option<usize>,
    /// Its tick, with a fraction.
    place: f64,
    /// So many ticks before and after it.
    near: f64,
}

impl Sought {
    fn of(spot: Spot, metre: Option<&MetreMap>, end_tick: u64) -> Result<Sought, String> {
        let (bar, beat) = match spot {
            Spot::Beat { bar, beat } => (bar, beat),
            Spot::Text { tick, track } => {
                let near = metre.map_or(0.0, |metre| NEAR_BEATS * metre.beat_ticks(tick));
                return Ok(Sought { track, place: tick as f64, near });
            }
        };
        let Some(metre) = metre else {
            return Err(NO_BARS.to_owned());
        };
        let (place, beat_ticks) = place_of(metre, end_tick, bar, beat)?;
        Ok(Sought { track: None, place, near: NEAR_BEATS * beat_ticks })
    }
}

/// The notes of a line, to be found by their ticks.
struct NoteIndex {
    channel: u8,
    /// Tick and key, in order of ticks.
    all: Vec<(u64, u8)>,
    /// Key and tick, sorted.
    by_key: Vec<(u8, u64)>,
}

impl NoteIndex {
    fn of(file: &File, line: &TakeLine, settings: &Settings) -> NoteIndex {
        let all = line.notes(file, &settings.patch);
        let mut by_key: Vec<(u8, u64)> = all.iter().map(|&(tick, key)| (key, tick)).collect();
        by_key.sort_unstable();
        NoteIndex { channel: line.channel, all, by_key }
    }

    /// The nearest note of a request, and those that begin with it if no key is named.
    fn meet(&self, sought: &Sought, number: usize, request: &WishRequest, to: &mut Vec<Wished>) {
        let mut wish = |tick, key| {
            let wish = Wish { channel: self.channel, key, asked: request.asked };
            to.push(Wished { tick, wish, request: number });
        };
        match request.key {
            Some(key) => {
                let first = self.by_key.partition_point(|note| note.0 < key);
                let last = self.by_key.partition_point(|note| note.0 <= key);
                let own = &self.by_key[first..last];
                let Some(tick) = nearest(own, |note| note.1, sought) else { return };
                let from = own.partition_point(|note| note.1 < tick);
                own[from..].iter().take_while(|note| note.1 == tick).for_each(|_| wish(tick, key));
            }
            None => {
                let Some(tick) = nearest(&self.all, |note| note.0, sought) else { return };
                let from = self.all.partition_point(|note| note.0 < tick);
                let here = self.all[from..].iter().take_while(|note| note.0 == tick);
                here.for_each(|note| wish(tick, note.1));
            }
        }
    }
}

/// The tick of the note nearest to the place, of two the earlier; `notes` are in order of ticks.
fn nearest<T>(notes: &[T], tick: impl Fn(&T) -> u64, sought: &Sought) -> Option<u64> {
    let after = notes.partition_point(|note| (tick(note) as f64) < sought.place);
    let before = after.checked_sub(1).map(|last| tick(&notes[last]));
    let away = |tick: u64| (tick as f64 - sought.place).abs();
    let is_near = |tick: &u64| away(*tick) <= sought.near + GRAIN_TICKS;
    let (before, after) = (before.filter(is_near), notes.get(after).map(tick).filter(is_near));
    match (before, after) {
        (Some(before), Some(after)) if away(after) + GRAIN_TICKS < away(before) => Some(after),
        (before, after) => before.or(after),
    }
}
