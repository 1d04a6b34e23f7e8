//! Shapes a whole file: its lines are played side by side, and each track is put together again.

use std::collections::{BTreeMap, HashSet};

use rayon::prelude::*;

use super::lanes::LaneRule;
use super::line::{PlayedLine, play};
use super::merge::{Fate, MergeLine, merge};
use super::report::{self, Report};
use crate::engine::patch::{Address, TargetPatch};
use crate::engine::{Message, REVISION};
use crate::offline::error::Error;
use crate::offline::midi::event::meta_bytes;
use crate::offline::midi::{EVENT_COUNT_MAX, FILE_BYTES_MAX, Track, TrackEvent, write};
use crate::offline::peel::TakeBytes;
use crate::offline::record::{self, Marker, ShapeRecord};
use crate::offline::take::{PreparedTake, Region, Request, Settings, prepare};
use crate::profile::address::source_text;
use crate::profile::voices::voices_words;

/// What the voices of several lines do to each other on a target's channels.
const SAME_CHANNELS: &str = "the voices of all lines play on the target's channels, so that they share their bends and controllers: perform one line at a time, with --track or --channel";

/// A shaped file.
#[derive(Debug)]
pub struct Shaped {
    /// The file.
    pub bytes: Vec<u8>,
    /// The take's own bytes, where it was peeled out of the file that was given.
    pub peeled: Option<Vec<u8>>,
    /// What was done.
    pub report: Report,
}

/// Shapes a take, given as bytes.
///
/// # Errors
/// Any [`Error`] of reading the file, choosing the lines or the bars; [`Error::Lanes`] if the take
/// moves what the performance would write.
pub fn shape_bytes<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
) -> Result<Shaped, Error> {
    shape_over_lanes(take, settings, LaneRule::Refuse)
}

/// Shapes a take that may have lanes of its own where the performance writes. What is performed is
/// the same under each rule.
///
/// # Errors
/// As [`shape_bytes`], but for [`Error::Lanes`] where the rule says what becomes of them.
pub fn shape_over_lanes<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
    rule: LaneRule,
) -> Result<Shaped, Error> {
    let mut take = prepare(take, settings)?;
    let untouched = |track: &Track| vec![Fate::Untouched; track.events.len()];
    let mut fates: Vec<Vec<Fate>> = take.file.tracks.iter().map(untouched).collect();
    let mut notices = std::mem::take(&mut take.notices);
    notices.extend(bend_notice(&settings.patch.target));
    if settings.patch.voices.channel(0).is_some() && take.lines.len() > 1 {
        notices.push(SAME_CHANNELS.to_owned());
    }
    let mut report = Report { lines: Vec::new(), notices, conflicts: Vec::new() };
    let mut conflicts = HashSet::new();
    let mut has_lanes = false;
    // Which tracks change; those with a gesture alone have no line.
    let mut played: BTreeMap<usize, Vec<PlayedLine>> = BTreeMap::new();
    // Lines know nothing of each other. The first error in their order is the one that is told.
    let all: Vec<_> = take.lines.par_iter().map(|line| play(&take, settings, line, rule)).collect();
    for (line, one) in take.lines.iter().zip(all) {
        let (one, line_report) = one?;
        decide(&mut fates, &one, take.region);
        for (track, place) in one.lanes.places() {
            fates[track][place] = match rule {
                LaneRule::Replace => Fate::Consumed,
                LaneRule::Refuse | LaneRule::Keep => Fate::Untouched,
            };
            if rule == LaneRule::Replace {
                played.entry(track).or_default();
            }
        }
        has_lanes |= !one.lanes.is_empty();
        let lanes = one.lanes.sentences().into_iter();
        report.notices.extend(lanes.map(|lane| format!("{lane}: {}", rule.sentence())));
        for conflict in report::conflicts(&settings.patch.target, &one.sent, &one.fed) {
            if conflicts.insert(conflict.clone()) {
                report.conflicts.push(conflict);
            }
        }
        report.lines.push(line_report);
        played.entry(line.gesture_track).or_default();
        played.entry(line.track).or_default().push(one);
    }
    let PreparedTake { mut file, factor, digest, peeled, .. } = take;
    for (&number, lines) in &played {
        let lines = lines.iter().map(|line| MergeLine { fed: &line.fed, sent: &line.sent });
        let lines: Vec<MergeLine> = lines.collect();
        file.tracks[number] = merge(&file.tracks[number], &fates[number], &lines, number);
    }
    if let Some((&number, _)) = played.first_key_value() {
        let lanes = has_lanes.then_some(rule.name());
        let track = &mut file.tracks[number];
        mark(track, settings, factor, digest, lanes);
    }
    drop(played);
    let event_count: usize = file.tracks.iter().map(|track| track.events.len()).sum();
    let bytes = write::write(&file)?;
    check_readable(event_count, bytes.len())?;
    Ok(Shaped { bytes, peeled, report })
}

/// Shapes a take with files by name: from a recorded take to the performed one in
/// one call.
///
/// ```
/// use polso::offline::{Request, shape_named};
///
/// let take = std::fs::read("examples/last-ferry.mid")?;
/// let request = Request { seed: 7, ..Request::new("erhu", "generic") };
/// let shaped = shape_named(&take, &request)?;
/// assert_eq!(shaped.report.lines[0].notes, 80);
/// std::fs::write(std::env::temp_dir().join("performed.mid"), &shaped.bytes)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// As [`Request::settings`] and [`shape_bytes`].
pub fn shape_named<'a>(take: impl Into<TakeBytes<'a>>, request: &Request) -> Result<Shaped, Error> {
    shape_bytes(take, &request.settings()?)
}

/// What cannot be read again could not be peeled either.
fn check_readable(event_count: usize, size: usize) -> Result<(), Error> {
    match event_count > EVENT_COUNT_MAX || size > FILE_BYTES_MAX {
        true => Err(Error::ShapeTooLarge { event_count, size }),
        false => Ok(()),
    }
}

/// Says of every event that the engine heard inside the region what becomes of it.
fn decide(fates: &mut [Vec<Fate>], played: &PlayedLine, region: Region) {
    for event in played.fed.iter().filter(|event| region.holds(event.tick)) {
        fates[event.track][event.index] = match event.message {
            Message::NoteOn { .. } | Message::NoteOff { .. } => Fate::Note,
            _ => Fate::Consumed,
        };
    }
    for event in played.switches.iter().filter(|event| region.holds(event.tick)) {
        fates[event.track][event.index] = Fate::Consumed;
    }
    for event in played.passed.iter().filter_map(|tag| played.fed.get(*tag as usize)) {
        let fate = &mut fates[event.track][event.index];
        if *fate == Fate::Consumed {
            *fate = Fate::Passed;
        }
    }
}

/// Puts the marker before the first thing that sounds.
fn mark(
    track: &mut Track,
    settings: &Settings,
    factor: u64,
    take: String,
    lanes: Option<&'static str>,
) {
    let Settings { provenance, imperfection, bars, patch, .. } = settings;
    let marker = Marker {
        engine: REVISION,
        instrument: provenance.instrument.clone(),
        target: provenance.target.clone(),
        hand: provenance.hand.clone(),
        wishes: provenance.wishes.clone(),
        source: source_text(patch.hand.source),
        seed: patch.seed,
        imperfection: *imperfection,
        voices: voices_words(&patch.voices),
        lanes,
        bars: bars.map(|bars| bars.to_string()),
        take,
        factor,
    };
    let bytes = meta_bytes(record::MARKER, marker.to_string().as_bytes());
    let is_name = |event: &&TrackEvent| {
        event.tick == 0 && event.bytes[0] == 0xFF && ShapeRecord::of(event).is_none()
    };
    let place = track.events.iter().take_while(is_name).count();
    track.events.insert(place, TrackEvent { tick: 0, bytes });
}

/// What has to be heard before the vibrato can be, where the receiver is told how far its bend goes.
fn bend_notice(target: &TargetPatch) -> Option<String> {
    let is_bent = target.outputs().iter().any(|output| output.address == Address::PitchBend);
    let semitones = target.bend_range_semitones;
    (target.sends_bend_range && is_bent).then(|| {
        let shrinks = format!("{:.1}", semitones / 2.0);
        format!(
            "the receiver is told that its bend goes {semitones} semitones either way (RPN 0): listen \
             to a full bend once; one that keeps its two semitones makes vibrato and joins {shrinks} \
             times too narrow"
        )
    })
}
