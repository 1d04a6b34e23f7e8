//! Two whole files beside each other, stream by stream.

use super::difference::{BarDifference, StreamContext};
use super::streams::{StreamKind, Streams};
use super::timeline::Timeline;
use super::tolerance::Tolerance;
use super::{events, levels, notes};
use crate::offline::Error;
use crate::offline::midi::{File, MetreMap};
use crate::offline::peel;

/// Two files beside each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Contrast {
    /// In order of bars, tracks, channels and outputs; empty if the files are the same.
    pub differences: Vec<BarDifference>,
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
pub fn contrast(first: &File, second: &File, within: &Tolerance) -> Result<Contrast, Error> {
    let timeline = Timeline::of(first, second)?;
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
    let first_count = streams.gather(first, 0, &timeline, is_paired);
    let second_count = streams.gather(second, 1, &timeline, is_paired);
    let mut differences = Vec::new();
    for (key, events) in &streams.all {
        let stream = StreamContext { key, timeline: &timeline, meter: meter.as_ref(), within };
        match key.kind {
            StreamKind::Notes => notes::compare(&stream, events, &mut differences),
            StreamKind::Controller(_)
            | StreamKind::Bend
            | StreamKind::ChannelPressure
            | StreamKind::PolyPressure(_)
            | StreamKind::Tempo => levels::compare(&stream, events, &mut differences),
            _ => events::compare(&stream, events, &mut differences),
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
