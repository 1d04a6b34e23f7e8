//! What differs between two files, by bar and output: counts, what is missing, what was added, how far.
//!
//! Places in the score are compared exactly, also between files of different resolution. Levels
//! (controllers, bend, pressure) are held values: what counts is what the receiver has heard by
//! then. The records that shaping leaves for the way back are no music and are passed over; what
//! two files were shaped with is told as a notice.

mod held;
mod notes;
mod place;
mod range;
mod single;
mod stream;
mod told;
mod within;

pub use told::{as_json, as_text};
pub use within::{WITHIN_RULE, Within};

use super::Error;
use super::midi::{File, MetreMap};
use super::{peel, record};
use place::{Place, Score};
use stream::{Key, Kind, Streams};

/// What differs in one bar of one output.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// The bar, from 1; `None` where ticks are film frames.
    pub bar: Option<u64>,
    /// The beat of the largest or else of the first difference, from 1.
    pub beat: Option<u64>,
    /// The track, from 1; `None` if the files' tracks could not be paired.
    pub track: Option<usize>,
    /// The channel, from 1; `None` for what belongs to no channel.
    pub channel: Option<u8>,
    /// What it is: `notes`, `velocities`, `note ends`, `cc 11`, `tempo` and so on.
    pub output: String,
    /// How many there are in the first file.
    pub first_count: usize,
    /// How many there are in the second.
    pub second_count: usize,
    /// In the first file and not in the second.
    pub missing: usize,
    /// In the second file and not in the first.
    pub added: usize,
    /// In both, at one place, with another value.
    pub changed: usize,
    /// The largest difference, in `unit`; `None` where there is nothing to measure.
    pub largest: Option<f64>,
    /// `steps`, `cents` or `ms`.
    pub unit: Option<&'static str>,
}

/// Two files beside each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Contrast {
    /// In order of bars, tracks, channels and outputs; empty if the files are the same.
    pub differences: Vec<Difference>,
    /// Events of the first file that were compared.
    pub first_count: usize,
    /// Events of the second.
    pub second_count: usize,
    /// What else should be known, one sentence each.
    pub notices: Vec<String>,
}

/// Compares two files. What differs by no more than `within` is not told.
///
/// # Errors
/// [`Error::Clocks`] if one counts quarter notes and the other film frames, or other ones.
pub fn contrast(first: &File, second: &File, within: &Within) -> Result<Contrast, Error> {
    let score = Score::of(first, second)?;
    let meter = MetreMap::of(first);
    let mut notices = Vec::new();
    let is_paired = first.tracks.len() == second.tracks.len();
    if !is_paired {
        let (one, other) = (first.tracks.len(), second.tracks.len());
        notices.push(format!(
            "the first file has {one} tracks and the second {other}, so channels are compared \
             across all tracks"
        ));
    }
    notices.extend(shaped_otherwise(first, second));
    let mut streams = Streams::default();
    let first_count = streams.gather(first, 0, &score, is_paired);
    let second_count = streams.gather(second, 1, &score, is_paired);
    let mut differences = Vec::new();
    for (key, events) in &streams.all {
        let sheet = Sheet { key, score: &score, meter: meter.as_ref(), within };
        match key.kind {
            Kind::Notes => notes::compare(&sheet, events, &mut differences),
            Kind::Controller(_)
            | Kind::Bend
            | Kind::ChannelPressure
            | Kind::PolyPressure(_)
            | Kind::Tempo => held::compare(&sheet, events, &mut differences),
            _ => single::compare(&sheet, events, &mut differences),
        }
    }
    // Stable: within a bar by track, channel and output.
    differences.sort_by_key(|difference| difference.bar);
    Ok(Contrast { differences, first_count, second_count, notices })
}

/// Two marks that are not the same.
fn shaped_otherwise(first: &File, second: &File) -> Option<String> {
    match (peel::shaped_mark(first), peel::shaped_mark(second)) {
        (Some(one), Some(other)) if one != other => {
            Some(format!("the first is marked `{one}`, the second `{other}`"))
        }
        (Some(_), None) => Some("only the first file has been shaped".to_owned()),
        (None, Some(_)) => Some("only the second file has been shaped".to_owned()),
        _ => None,
    }
}

/// Where the differences of one stream are written down.
struct Sheet<'a> {
    key: &'a Key,
    score: &'a Score,
    meter: Option<&'a MetreMap>,
    within: &'a Within,
}

impl Sheet<'_> {
    /// Bar and beat of a place.
    fn position(&self, place: Place) -> (Option<u64>, Option<u64>) {
        let tick = self.score.first_tick(place);
        self.meter.map(|meter| meter.position(tick)).unzip()
    }

    /// A row with nothing in it yet.
    fn row(&self, place: Place, output: String) -> Difference {
        let (bar, beat) = self.position(place);
        Difference {
            bar,
            beat,
            track: self.key.track.map(|track| track + 1),
            channel: self.key.channel.map(|channel| channel + 1),
            output,
            first_count: 0,
            second_count: 0,
            missing: 0,
            added: 0,
            changed: 0,
            largest: None,
            unit: None,
        }
    }
}

impl Difference {
    /// Remembers a difference, and where, if it is the largest so far.
    fn stretch(&mut self, size: f64, beat: Option<u64>) {
        if size > 0.0 && self.largest.is_none_or(|largest| size > largest) {
            (self.largest, self.beat) = (Some(size), beat);
        }
    }
}

/// Whether an event is a record or a marker of ours.
fn is_ours(event: &super::midi::TrackEvent) -> bool {
    record::ShapeRecord::of(event).is_some() || record::marker_text(event).is_some()
}
