//! The command that comes next: which line to shape, as which instrument, by which controller.

use std::collections::BTreeMap;

use serde::Serialize;

use super::lane::LookedLane;
use super::notes::LookedNotes;
use super::track::{LookedPart, LookedTrack};
use crate::engine::patch::Source;
use crate::offline::error::Error;
use crate::offline::midi::File;
use crate::offline::shape::shape_bytes;
use crate::offline::take::line::{self, TakeLine};
use crate::offline::take::present::unlikeness;
use crate::offline::take::{Request, Settings, prepare};
use crate::profile::address::source_option;

/// What stands for an instrument that cannot be told.
pub const PLACEHOLDER: &str = "INSTRUMENT";
/// The controller that is taken where no option names one.
const USUAL_SOURCE: Source = Source::Controller(1);
/// Where more notes begin with the controller at 0 than this share, it was not the level.
const ZERO_SHARE_MAX: f64 = 0.25;
/// What has fewer different keys is a signal or a drum, and no line.
const PITCHES_MIN: usize = 3;
/// A line with more chords, share of its notes, is no line.
const CHORD_SHARE_MAX: f64 = 0.1;

/// The command that comes next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextCommand {
    /// `shape`, `peel`, or nothing where there are no notes.
    pub verb: Option<&'static str>,
    /// The instrument to shape for.
    pub instrument: Option<String>,
    /// That is no instrument, but a word to be replaced by one.
    pub is_placeholder: bool,
    /// The track, where there are several lines.
    pub track: Option<usize>,
    /// The channel, where the track has several lines.
    pub channel: Option<u8>,
    /// The controller, where it is not the usual one.
    pub source: Option<String>,
    /// Lanes of the take lie where the performance goes, and are taken out.
    pub replaces: bool,
    /// What to know of it, one sentence each.
    pub remarks: Vec<String>,
}

impl NextCommand {
    /// Of a file that was shaped.
    pub fn peel() -> NextCommand {
        NextCommand { verb: Some("peel"), ..NextCommand::none(Vec::new()) }
    }

    fn none(remarks: Vec<String>) -> NextCommand {
        NextCommand {
            verb: None,
            instrument: None,
            is_placeholder: false,
            track: None,
            channel: None,
            source: None,
            replaces: false,
            remarks,
        }
    }

    /// The words after the program's name; nothing where there is no command.
    pub fn words(&self, input: &str, output: &str) -> Vec<String> {
        let Some(verb) = self.verb else { return Vec::new() };
        let mut words: Vec<String> = [verb, input, "-o", output].map(str::to_owned).into();
        let mut option = |name: &str, value: Option<String>| {
            words.extend(value.into_iter().flat_map(|value| [name.to_owned(), value]));
        };
        option("-i", self.instrument.clone());
        option("--track", self.track.map(|track| track.to_string()));
        option("--channel", self.channel.map(|channel| channel.to_string()));
        option("--source", self.source.clone());
        words.extend(self.replaces.then(|| "--replace".to_owned()));
        words
    }
}

/// A line that could be shaped.
struct Candidate<'a> {
    part: &'a LookedPart,
    track: usize,
    name: Option<&'a str>,
    /// The controller that would be its gesture, if anything moves for it.
    gesture: Option<&'a LookedLane>,
}

/// The command that shapes the line of a file that looks most like one.
pub fn shape(bytes: &[u8], file: &File, tracks: &[LookedTrack]) -> NextCommand {
    let candidates = candidates(file, tracks);
    let Some(best) = candidates.iter().max_by_key(|it| merit(it)) else {
        return NextCommand::none(vec!["there are no notes, so there is nothing to shape".into()]);
    };
    let told = best.part.instrument.as_ref();
    let id = told.and_then(|told| told.id);
    let source = best.gesture.and_then(|lane| lane.gesture).unwrap_or(USUAL_SOURCE);
    let is_one_of_several = candidates.iter().filter(|it| it.track == best.track).count() > 1;
    let mut next = NextCommand {
        verb: Some("shape"),
        instrument: Some(id.unwrap_or(PLACEHOLDER).to_owned()),
        is_placeholder: id.is_none(),
        track: (candidates.len() > 1).then_some(best.track),
        channel: is_one_of_several.then_some(best.part.channel),
        source: (source != USUAL_SOURCE).then(|| source_option(source)),
        replaces: false,
        remarks: choice(best, candidates.len()).into_iter().chain(remarks(best)).collect(),
    };
    let mut request = Request::new(id.unwrap_or("erhu"), "generic");
    request.source = Some(source);
    request.tracks = next.track.into_iter().collect();
    request.channels = next.channel.into_iter().collect();
    match request.settings().and_then(|settings| try_out(bytes, &settings, tracks)) {
        Err(error @ Error::Lanes { .. }) => {
            next.replaces = true;
            next.remarks.push(error.to_string());
        }
        Err(error) => next.remarks.push(format!("as it stands it is refused: {error}")),
        Ok(()) => {}
    }
    next
}

/// Tries the command out: as far as its words go, and to the end where something of the take may lie
/// in its way.
fn try_out(bytes: &[u8], settings: &Settings, tracks: &[LookedTrack]) -> Result<(), Error> {
    let mut lanes = tracks.iter().flat_map(|track| &track.parts).flat_map(|part| &part.lanes);
    match lanes.any(|lane| lane.layer.is_some() && lane.is_moving()) {
        true => shape_bytes(bytes, settings).map(drop),
        false => prepare(bytes, settings).map(drop),
    }
}

/// Every line with the controller that would be its gesture: what moves on its own track and
/// channel, or what moves on the channel in a track without notes.
fn candidates<'a>(file: &File, tracks: &'a [LookedTrack]) -> Vec<Candidate<'a>> {
    let parts = || tracks.iter().flat_map(|track| track.parts.iter().map(move |it| (track, it)));
    let mut of_channel: BTreeMap<u8, &LookedLane> = BTreeMap::new();
    for (_, part) in parts() {
        for lane in part.lanes.iter().filter(|lane| is_possible(lane)) {
            let best = of_channel.entry(part.channel).or_insert(lane);
            if order(lane) < order(best) {
                *best = lane;
            }
        }
    }
    // At most one for each channel, each asked for once.
    let mut lent: Vec<(Source, Vec<TakeLine>)> = Vec::new();
    let mut is_lent = |lane: &LookedLane, track: usize, channel: u8| {
        let Some(source) = lane.gesture else { return false };
        if !lent.iter().any(|(own, _)| *own == source) {
            lent.push((source, line::lines(file, source)));
        }
        let lines = lent.iter().filter(|(own, _)| *own == source).flat_map(|(_, lines)| lines);
        let place = (track - 1, channel - 1);
        lines.into_iter().any(|line| line.place() == place && line.gesture_count > 0)
    };
    let with_notes = parts().filter(|(_, part)| part.notes.is_some());
    let candidate = |(track, part): (&'a LookedTrack, &'a LookedPart)| {
        let own = part.lanes.iter().filter(|lane| is_possible(lane)).min_by_key(|it| order(it));
        let gesture = own.or_else(|| {
            let lane = of_channel.get(&part.channel).copied()?;
            is_lent(lane, track.track, part.channel).then_some(lane)
        });
        Candidate { part, track: track.track, name: track.name.as_deref(), gesture }
    };
    with_notes.map(candidate).collect()
}

/// What could be a gesture. The player's own bend is added to the line; it is none by itself.
fn is_possible(lane: &LookedLane) -> bool {
    lane.is_moving() && lane.gesture.is_some_and(|source| source != Source::PitchBend)
}

/// What moves as a hand comes first, then what looks like a player's, then what moves most.
fn order(lane: &LookedLane) -> impl Ord + use<> {
    let source = lane.gesture.unwrap_or(USUAL_SOURCE);
    (!lane.is_hand(), unlikeness(source, lane.messages))
}

/// How much a line looks like one to be shaped.
fn merit(it: &Candidate) -> impl Ord + use<> {
    let notes = it.part.notes.as_ref();
    let note_count = notes.map_or(0, |notes| notes.notes);
    let is_line = notes.is_some_and(|notes| {
        let pitches = notes.struck.iter().filter(|count| **count > 0).count();
        is_single(notes) && pitches >= PITCHES_MIN
    });
    (
        !it.part.is_drum_channel,
        it.gesture.is_some_and(|lane| lane.is_hand() && is_players(lane)),
        is_line,
        it.part.instrument.as_ref().is_some_and(|told| told.id.is_some()),
        it.gesture.map_or(0, |lane| lane.messages),
        note_count,
    )
}

/// Few of its notes are chords.
fn is_single(notes: &LookedNotes) -> bool {
    notes.chords as f64 <= CHORD_SHARE_MAX * notes.notes as f64
}

/// It is not only what mixes a line.
fn is_players(lane: &LookedLane) -> bool {
    lane.gesture.is_some_and(|source| !unlikeness(source, 0).0)
}

/// Which line is taken, where there are several.
fn choice(it: &Candidate, count: usize) -> Option<String> {
    let name = it.name.map_or(String::new(), |name| format!(" ({name})"));
    (count > 1).then(|| {
        format!(
            "of {count} lines the one on track {}, channel {}{name} looks most like a player's; \
             --track and --channel take another",
            it.track, it.part.channel
        )
    })
}

/// What to know of the line before it is shaped.
fn remarks(it: &Candidate) -> Vec<String> {
    let mut remarks = Vec::new();
    let told = it.part.instrument.as_ref();
    match told.and_then(|told| told.id) {
        None => {
            let candidates = told.map_or(String::new(), |told| told.candidates.join(", "));
            let by_range = match told.map_or(0, |told| told.outside_notes) {
                0 => format!("by the range of the notes it could be {candidates}"),
                lacks => {
                    format!("none of them has all of these notes, {candidates} all but {lacks}")
                }
            };
            remarks.push(format!(
                "{PLACEHOLDER} stands for the instrument, which neither name nor program tells: \
                 put one of `polso list` there; {by_range}"
            ));
        }
        Some(id) => {
            let outside = told.map_or(0, |told| told.outside_notes);
            if outside > 0 {
                let notes = if outside == 1 { "note lies" } else { "notes lie" };
                remarks.push(format!("{outside} {notes} outside the range of {id}"));
            }
        }
    }
    match it.gesture {
        None => remarks.push(
            "no controller moves with these notes, so the gesture stays at rest and the line at its \
             softest: record a wheel or a breath with it first, or shape joins and endings alone"
                .to_owned(),
        ),
        Some(lane) if !lane.is_hand() => remarks.push(format!(
            "{} has {} different values only: it was set here and there rather than moved",
            lane.address, lane.steps
        )),
        Some(lane) if !is_players(lane) => remarks.push(format!(
            "nothing moves but {}, the volume, which belongs to the mix rather than to the player",
            lane.address
        )),
        Some(lane) if lane.notes_at_zero_share > ZERO_SHARE_MAX => remarks.push(format!(
            "{} stands at 0 as {:.0} % of the notes begin, and 0 is silence: if it was moved for a \
             vibrato and not for the level, record the level on another controller",
            lane.address,
            100.0 * lane.notes_at_zero_share
        )),
        Some(_) => {}
    }
    if let Some(notes) = it.part.notes.as_ref().filter(|notes| !is_single(notes)) {
        remarks.push(format!(
            "{} chords: this is no single line, and of a chord the upper note is the line",
            notes.chords
        ));
    }
    if it.part.is_drum_channel {
        remarks.push("channel 10 has the drums in General MIDI: this may be no line".to_owned());
    }
    remarks
}
