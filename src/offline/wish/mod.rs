//! Requests for single notes: as texts in the take, or in a small table beside it.
//!
//! A text event (text, marker or cue point: `FF 01`, `06`, `07`) that begins with `wish` stands
//! where its note begins: `wish: no vibrato`, or `wish A4: open` where several notes begin there.
//! In a track with notes it is for that track, in one without for whichever line has the note. A
//! line of a table says bar, beat and key: `12.3 A4: pressed`; a beat may have a fraction,
//! `12.3+1/2`. What stands after a `#` of its own is for the reader. Several requests are divided by commas.

mod answer;
mod read;

use super::line::Line;
use super::midi::{File, Meter};
use super::text::{self, Text};
use super::{Error, Settings};
use crate::engine::Wish;
use crate::profile::pitch::key_name;

pub use answer::Answers;
use read::in_words;
pub use read::read_table;

/// A played note is meant if it begins within this share of a beat: hands are not on the grid.
const NEAR_BEATS: f64 = 0.25;

/// A wish and the tick of its note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wished {
    /// The tick of the note-on.
    pub tick: u64,
    /// What is asked for.
    pub wish: Wish,
    /// Which of the requests it is.
    pub request: usize,
}

/// Something asked of a note.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Where it is written, as a sentence begins: `wishes, line 3`.
    pub place: String,
    /// Where its note begins, in words: `12.3+1/2`.
    pub beat: String,
    /// Where its note begins.
    pub spot: Spot,
    /// Its note's key; `None` is every note that begins there.
    pub key: Option<u8>,
    /// What; channel and key are those of the note.
    pub wish: Wish,
}

/// Where a note begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spot {
    /// As a table has it.
    Beat {
        /// From 1.
        bar: u64,
        /// From 1, with its fraction.
        beat: f64,
    },
    /// At a text.
    Text {
        /// Its tick.
        tick: u64,
        /// Its track from 0, if the track has notes.
        track: Option<usize>,
    },
}

/// Every request for the lines: the texts of the file, and those of the table. `factor` is how
/// much finer the file's ticks are than the take's.
///
/// # Errors
/// [`Error::Words`] for a text that cannot be read, a bar or beat that is not there, or a request
/// that no note of the lines meets.
pub fn gather(
    file: &File,
    lines: &[Line],
    factor: u64,
    settings: &Settings,
) -> Result<Vec<Request>, Error> {
    let meter = Meter::of(file);
    let mut requests = Vec::new();
    for Text { tick, track, own_track, words } in text::texts(file, lines) {
        let fault = |what: String| Error::Words { place: text::place(track, tick, factor), what };
        if let Some((key, wish)) = read::read_text(words, &settings.styles).map_err(fault)? {
            let place = text::place(track, tick, factor);
            let spot = Spot::Text { tick, track: own_track };
            let beat = text::beat(meter.as_ref(), tick, factor);
            requests.push(Request { place, beat, spot, key, wish });
        }
    }
    requests.extend(settings.wishes.iter().cloned());
    let scores: Vec<Score> = lines.iter().map(|line| Score::of(file, line, settings)).collect();
    for request in &requests {
        let fault = |what: String| Error::Words { place: request.place.clone(), what };
        check_spot(file, meter.as_ref(), request.spot).map_err(fault)?;
        if scores.iter().all(|score| score.meet(meter.as_ref(), 0, request).is_empty()) {
            return Err(fault(unmet(request)));
        }
    }
    Ok(requests)
}

/// The wishes for the notes of one line, in order of ticks.
pub fn of_line(file: &File, line: &Line, requests: &[Request], settings: &Settings) -> Vec<Wished> {
    let (meter, score) = (Meter::of(file), Score::of(file, line, settings));
    let each = requests.iter().enumerate();
    let mut wished: Vec<Wished> =
        each.flat_map(|(place, request)| score.meet(meter.as_ref(), place, request)).collect();
    wished.sort_by_key(|wished| wished.tick);
    wished
}

/// Refuses a bar behind the end and a beat that its bar does not have.
fn check_spot(file: &File, meter: Option<&Meter>, spot: Spot) -> Result<(), String> {
    let Spot::Beat { bar, beat } = spot else { return Ok(()) };
    let Some(meter) = meter else {
        return Err("this file counts film frames and has no bars".to_owned());
    };
    let end_tick = file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
    let last_bar = meter.position(end_tick).0;
    if bar > last_bar {
        return Err(format!("bar is {bar}; allowed is 1 to {last_bar}, where the take ends"));
    }
    let (start, end) = (meter.bar_start(bar), meter.bar_start(bar + 1));
    let beats = (end - start) as f64 / meter.beat_ticks(start);
    if beat >= beats + 1.0 {
        let whole = beats.ceil();
        return Err(format!(
            "beat is {beat}; allowed is 1 to {whole}, with a fraction, in bar {bar}"
        ));
    }
    Ok(())
}

fn unmet(request: &Request) -> String {
    let key = request.key.map_or("note".to_owned(), key_name);
    match request.spot {
        Spot::Beat { bar, beat } => {
            format!("no {key} begins within a quarter of a beat of bar {bar}, beat {beat}")
        }
        Spot::Text { .. } => format!("no {key} begins within a quarter of a beat of this text"),
    }
}

/// The notes of a line, tick and key, in order of ticks.
struct Score<'a> {
    line: &'a Line,
    notes: Vec<(u64, u8)>,
}

impl Score<'_> {
    fn of<'a>(file: &File, line: &'a Line, settings: &Settings) -> Score<'a> {
        Score { line, notes: line.notes(file, &settings.patch.hand) }
    }

    /// The nearest note of a request, and those that begin with it if no key is named.
    fn meet(&self, meter: Option<&Meter>, number: usize, request: &Request) -> Vec<Wished> {
        let (place, near) = match (request.spot, meter) {
            (Spot::Text { track: Some(track), .. }, _) if track != self.line.track => {
                return Vec::new();
            }
            (Spot::Text { tick, .. }, None) => (tick as f64, 0.0),
            (Spot::Text { tick, .. }, Some(meter)) => {
                (tick as f64, NEAR_BEATS * meter.beat_ticks(tick))
            }
            (Spot::Beat { .. }, None) => return Vec::new(),
            (Spot::Beat { bar, beat }, Some(meter)) => {
                let start = meter.bar_start(bar);
                let beat_ticks = meter.beat_ticks(start);
                (start as f64 + (beat - 1.0) * beat_ticks, NEAR_BEATS * beat_ticks)
            }
        };
        let first = self.notes.partition_point(|(tick, _)| (*tick as f64) < place - near);
        let close = self.notes[first..].iter().take_while(|(tick, _)| *tick as f64 <= place + near);
        let meant = close.filter(|(_, key)| request.key.is_none_or(|own| own == *key));
        let away = |tick: u64| (tick as f64 - place).abs();
        let nearest =
            meant.clone().map(|(tick, _)| *tick).min_by(|a, b| away(*a).total_cmp(&away(*b)));
        let wished = |&(tick, key): &(u64, u8)| {
            let wish = Wish { channel: self.line.channel, key, ..request.wish };
            Wished { tick, wish, request: number }
        };
        meant.filter(|(tick, _)| Some(*tick) == nearest).map(wished).collect()
    }
}
