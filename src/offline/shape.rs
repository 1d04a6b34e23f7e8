//! The main job: a recorded take goes in, the performed line comes out in the same file.

use std::collections::{BTreeMap, HashSet};

use rayon::prelude::*;

use super::articulation::{self, Named};
use super::ledger::{self, Marker};
use super::line::{self, Line};
use super::midi::event::meta_bytes;
use super::midi::{self, Bars, Clock, EVENT_COUNT_MAX, Event, FILE_BYTES_MAX, File, Meter, Track};
use super::peel::{self, Peeled};
use super::perform::{self, Asked, Fed, Performance, RATE_HZ, Raster, Sent};
use super::region::{self, Region};
use super::report::{self, LineReport, Report, Tally};
use super::text;
use super::weave::{Fate, Strand, weave};
use super::wish::{self, Answers, Request, Wished};
use super::{Error, Settings, digest};
use crate::engine::REVISION;
use crate::engine::event::{Message, Origin};
use crate::profile::address::source_text;

/// How often the report looks at the engine: every 10 ms.
const LOOKS: Raster = Raster::Changes(RATE_HZ / 100);

/// The most changes of the tempo, times lines: each line follows them all.
const TEMPO_COUNT_MAX: usize = 10_000_000;

/// A shaped file.
#[derive(Debug)]
pub struct Shaped {
    /// The file.
    pub bytes: Vec<u8>,
    /// What was done.
    pub report: Report,
}

/// A take made ready: fine ticks, its clock, the lines to play and the part to change.
pub(super) struct Take {
    pub file: File,
    /// Of the take as it came.
    pub digest: String,
    pub factor: u64,
    pub clock: Clock,
    /// Its bars; `None` where ticks are film frames.
    pub meter: Option<Meter>,
    /// In the order of tracks and channels.
    pub lines: Vec<Line>,
    pub region: Region,
    /// What is asked of single notes.
    pub requests: Vec<Request>,
    /// The notes of each line that are meant.
    pub wished: Vec<Vec<Wished>>,
    /// Where articulations are named.
    pub named: Vec<Named>,
    pub notices: Vec<String>,
}

impl Take {
    /// What is asked of a line's performance.
    pub fn asked(&self, line: &Line, settings: &Settings) -> Asked {
        let place = self.lines.binary_search_by_key(&line.place(), Line::place);
        let wishes = place.map_or(Vec::new(), |place| self.wished[place].clone());
        let (file, meter) = (&self.file, self.meter.as_ref());
        let articulations = articulation::of_line(file, meter, line, &self.named, settings);
        Asked { wishes, articulations, ..Asked::default() }
    }
}

/// Shapes the take in `bytes`.
///
/// # Errors
/// Any [`Error`] of reading the file, choosing the lines or the bars.
pub fn shape_bytes(bytes: &[u8], settings: &Settings) -> Result<Shaped, Error> {
    let mut take = prepare(bytes, settings)?;
    let untouched = |track: &Track| vec![Fate::Untouched; track.events.len()];
    let mut fates: Vec<Vec<Fate>> = take.file.tracks.iter().map(untouched).collect();
    let notices = std::mem::take(&mut take.notices);
    let mut report = Report { lines: Vec::new(), notices, conflicts: Vec::new() };
    let mut conflicts = HashSet::new();
    // Which tracks change; those with a gesture alone have no line.
    let mut played: BTreeMap<usize, Vec<Played>> = BTreeMap::new();
    // Lines know nothing of each other. The first error in their order is the one that is told.
    let all: Vec<_> = take.lines.par_iter().map(|line| play(&take, settings, line)).collect();
    for (line, one) in take.lines.iter().zip(all) {
        let (one, line_report) = one?;
        decide(&mut fates, &one, take.region);
        for conflict in report::conflicts(&settings.patch.target, &one.sent, &one.fed) {
            if conflicts.insert(conflict.clone()) {
                report.conflicts.push(conflict);
            }
        }
        report.lines.push(line_report);
        played.entry(line.gesture_track).or_default();
        played.entry(line.track).or_default().push(one);
    }
    let Take { mut file, factor, digest, .. } = take;
    for (&number, lines) in &played {
        let strands = lines.iter().map(|line| Strand { fed: &line.fed, sent: &line.sent });
        let strands: Vec<Strand> = strands.collect();
        file.tracks[number] = weave(&file.tracks[number], &fates[number], &strands, number);
    }
    if let Some((&number, _)) = played.first_key_value() {
        mark(&mut file.tracks[number], settings, factor, digest);
    }
    drop(played);
    let event_count: usize = file.tracks.iter().map(|track| track.events.len()).sum();
    let bytes = midi::write::write(&file)?;
    check_readable(event_count, bytes.len())?;
    Ok(Shaped { bytes, report })
}

/// What cannot be read again could not be peeled either.
fn check_readable(event_count: usize, size: usize) -> Result<(), Error> {
    match event_count > EVENT_COUNT_MAX || size > FILE_BYTES_MAX {
        true => Err(Error::ShapeTooLarge { event_count, size }),
        false => Ok(()),
    }
}

/// Reads a take and makes it ready for the settings.
pub(super) fn prepare(bytes: &[u8], settings: &Settings) -> Result<Take, Error> {
    let mut notices = Vec::new();
    let mut file = unshaped(midi::read::read(bytes)?, settings, &mut notices)?;
    let choice = line::choose(&file, settings.patch.hand.source, &settings.tracks)?;
    notices.extend(choice.notices);
    let factor = file.division.factor();
    let digest = digest::of_take(&file);
    refine(&mut file, factor);
    let clock = Clock::of(&file);
    if clock.zero_tempo_count > 0 {
        let count = clock.zero_tempo_count;
        notices.push(format!("{count} tempos of 0 would stop time and are passed over"));
    }
    if clock.tempo_count().saturating_mul(choice.lines.len()) > TEMPO_COUNT_MAX {
        let what = "changes of the tempo";
        return Err(Error::TooMuchAsked { what, count_max: TEMPO_COUNT_MAX });
    }
    let meter = Meter::of(&file);
    let region = match settings.bars {
        Some(bars) => Region::of(&file, meter.as_ref(), bars)?,
        None => Region::ALL,
    };
    let lines = choice.lines;
    let texts = text::texts(&file, &lines);
    let (requests, wished) = wish::gather(&file, meter.as_ref(), &texts, &lines, factor, settings)?;
    let named = articulation::gather(&texts, &lines, factor)?;
    Ok(Take { file, digest, factor, clock, meter, lines, region, requests, wished, named, notices })
}

/// The file, if it was never shaped; else refused, or peeled first.
fn unshaped(file: File, settings: &Settings, notices: &mut Vec<String>) -> Result<File, Error> {
    let Some(marker) = peel::shaped_mark(&file) else { return Ok(file) };
    if !settings.is_forced {
        return Err(Error::Shaped { marker });
    }
    if settings.bars.is_some() {
        return Err(Error::ShapedBars);
    }
    let Peeled { file, leftovers, .. } = peel::peel(file)?;
    notices.push("the file was shaped before and has been peeled first".into());
    notices.extend(leftovers);
    Ok(file)
}

/// Makes the file's ticks `factor` times as fine.
fn refine(file: &mut File, factor: u64) {
    file.division = file.division.finer(factor);
    for track in &mut file.tracks {
        track.end_tick *= factor;
        track.events.iter_mut().for_each(|event| event.tick *= factor);
    }
}

/// One line as performed inside the region.
struct Played {
    /// What went in.
    fed: Vec<Fed>,
    /// The keys of the take that chose articulations.
    switches: Vec<Fed>,
    /// What came out.
    sent: Vec<Sent>,
    /// The tags of what passed.
    passed: Vec<u32>,
}

/// Plays one line and counts what happens in the region.
fn play(take: &Take, settings: &Settings, line: &Line) -> Result<(Played, LineReport), Error> {
    let Take { file, clock, region, .. } = take;
    let (region, Settings { patch, styles, .. }) = (*region, settings);
    let end_frame = match region.end {
        u64::MAX => u64::MAX,
        end => clock.frame_at(end, RATE_HZ),
    };
    let resync_tick = (region != Region::ALL).then_some(region.start);
    let asked = Asked { resync_tick, ..take.asked(line, settings) };
    let mut answers = Answers::new(&asked.wishes, region);
    let mut tally = Tally::new(clock.frame_at(region.start, RATE_HZ)..end_frame);
    let performance = perform::perform(file, clock, patch, line, &asked, LOOKS, |look| {
        tally.look(&look);
        answers.look(&look);
    })?;
    let changes = articulation::changes(&asked, &performance, take, settings);
    let Performance { fed, switches, sent, losses } = performance;
    let passed = sent.iter().filter_map(|sent| match sent.origin {
        Origin::Passed(tag) => Some(tag),
        _ => None,
    });
    let passed = passed.collect();
    let sent = region::confine(sent, &fed, region, &patch.target);
    let played = Played { fed, switches, sent, passed };
    let mut report = account(clock, line, &played, region);
    report.articulations = changes.iter().map(ToString::to_string).collect();
    report.wishes = answers.sentences(&take.requests, styles);
    report.source = source_text(patch.hand.source);
    report.outputs = report::outputs(&played.sent, styles, report.length_s);
    tally.fill(&mut report, losses);
    Ok((played, report))
}

/// The numbers of a line: length, notes, what was consumed and changed.
fn account(clock: &Clock, line: &Line, played: &Played, region: Region) -> LineReport {
    let Played { fed, sent, .. } = played;
    let inside = || fed.iter().filter(|event| region.holds(event.tick));
    let is_note =
        |message: Message| matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
    let passed = sent.iter().filter(|sent| matches!(sent.origin, Origin::Passed(_))).count();
    let offs: HashSet<(u64, Message)> = inside()
        .filter(|event| matches!(event.message, Message::NoteOff { .. }))
        .map(|event| (event.tick, event.message))
        .collect();
    let (mut velocities_changed, mut offs_moved) = (0, 0);
    for sent in sent {
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { .. }) => {
                let played = fed.get(tag as usize).map(|event| event.message);
                velocities_changed += usize::from(played != Some(sent.message));
            }
            (Origin::Note(_), message) => {
                offs_moved += usize::from(!offs.contains(&(sent.tick, message)));
            }
            _ => {}
        }
    }
    let last_tick = fed.last().map_or(0, |event| event.tick);
    LineReport {
        track: line.track + 1,
        channel: line.channel + 1,
        notes: inside().filter(|it| matches!(it.message, Message::NoteOn { .. })).count(),
        length_s: region.length_s(clock, last_tick),
        consumed: inside().filter(|event| !is_note(event.message)).count().saturating_sub(passed),
        velocities_changed,
        offs_moved,
        ..LineReport::default()
    }
}

/// Says of every event that the engine heard inside the region what becomes of it.
fn decide(fates: &mut [Vec<Fate>], played: &Played, region: Region) {
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
fn mark(track: &mut Track, settings: &Settings, factor: u64, take: String) {
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
        bars: bars.map(|bars: Bars| bars.to_string()),
        take,
        factor,
    };
    let bytes = meta_bytes(ledger::MARKER, marker.to_string().as_bytes());
    let is_name = |event: &&Event| {
        event.tick == 0 && event.bytes[0] == 0xFF && ledger::Record::of(event).is_none()
    };
    let place = track.events.iter().take_while(is_name).count();
    track.events.insert(place, Event { tick: 0, bytes });
}
