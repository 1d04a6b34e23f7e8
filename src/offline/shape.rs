//! The main job: a recorded take goes in, the performed line comes out in the same file.

use rayon::prelude::*;

use super::articulation::{self, Named};
use super::ledger::{self, Marker};
use super::line::{self, Line};
use super::midi::event::meta_bytes;
use super::midi::{self, Bars, Clock, EVENT_COUNT_MAX, Event, FILE_BYTES_MAX, File, Track};
use super::peel::{self, Peeled};
use super::perform::{self, Asked, Performance, RATE_HZ, Raster, Sent};
use super::region::{self, Region};
use super::report::{self, LineReport, Report, Tally};
use super::weave::{Fate, Strand, weave};
use super::wish::{self, Answers, Request};
use super::{Error, Settings, digest};
use crate::engine::REVISION;
use crate::engine::{Message, Origin};
use crate::profile::address::source_text;

/// How often the report looks at the engine: every 10 ms.
const LOOKS: Raster = Raster::Changes(RATE_HZ / 100);

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
    pub lines: Vec<Line>,
    pub region: Region,
    /// What is asked of single notes.
    pub requests: Vec<Request>,
    /// Where articulations are named.
    pub named: Vec<Named>,
    pub notices: Vec<String>,
}

impl Take {
    /// What is asked of a line's performance.
    pub fn asked(&self, line: &Line, settings: &Settings) -> Asked {
        let wishes = wish::of_line(&self.file, line, &self.requests, settings);
        let articulations = articulation::of_line(&self.file, line, &self.named, settings);
        Asked { resync_tick: None, wishes, articulations }
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
    let mut played: Vec<(Line, Performance, Vec<Sent>)> = Vec::new();
    // Lines know nothing of each other. The first error in their order is the one that is told.
    let all: Vec<_> = take.lines.par_iter().map(|line| play(&take, settings, line)).collect();
    for (line, one) in take.lines.iter().zip(all) {
        let (performance, line_report, sent) = one?;
        decide(&mut fates, &performance, take.region);
        for conflict in report::conflicts(&settings.patch.target, &sent, &performance.fed) {
            if !report.conflicts.contains(&conflict) {
                report.conflicts.push(conflict);
            }
        }
        report.lines.push(line_report);
        played.push((*line, performance, sent));
    }
    let Take { mut file, factor, digest, .. } = take;
    let mut first_track = None;
    for (number, (track, fates)) in file.tracks.iter_mut().zip(&fates).enumerate() {
        let is_own = |line: &Line| line.track == number || line.gesture_track == number;
        if !played.iter().any(|(line, ..)| is_own(line)) {
            continue;
        }
        first_track = first_track.or(Some(number));
        let strands = played.iter().filter(|(line, ..)| line.track == number);
        let strands: Vec<Strand> =
            strands.map(|(_, played, sent)| Strand { fed: &played.fed, sent }).collect();
        *track = weave(track, fates, &strands, number);
    }
    if let Some(number) = first_track {
        mark(&mut file.tracks[number], settings, factor, digest);
    }
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
    let region = match settings.bars {
        Some(bars) => Region::of(&file, bars)?,
        None => Region::ALL,
    };
    let lines = choice.lines;
    let requests = wish::gather(&file, &lines, factor, settings)?;
    let named = articulation::gather(&file, &lines, factor)?;
    Ok(Take { file, digest, factor, clock, lines, region, requests, named, notices })
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

/// Plays one line and counts what happens in the region.
fn play(
    take: &Take,
    settings: &Settings,
    line: &Line,
) -> Result<(Performance, LineReport, Vec<Sent>), Error> {
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
    let sent = region::confine(&performance, region, &patch.target);
    let mut report = account(clock, line, &performance, &sent, region);
    let changes = articulation::changes(&asked, &performance, take, settings);
    report.articulations = changes.iter().map(ToString::to_string).collect();
    report.wishes = answers.sentences(&take.requests, styles);
    report.source = source_text(patch.hand.source);
    report.outputs = report::outputs(&sent, styles, report.length_s);
    tally.fill(&mut report, performance.losses);
    Ok((performance, report, sent))
}

/// The numbers of a line: length, notes, what was consumed and changed.
fn account(
    clock: &Clock,
    line: &Line,
    performance: &Performance,
    sent: &[Sent],
    region: Region,
) -> LineReport {
    let inside = || performance.fed.iter().filter(|event| region.holds(event.tick));
    let is_note =
        |message: Message| matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
    let passed = sent.iter().filter(|sent| matches!(sent.origin, Origin::Passed(_))).count();
    let offs: std::collections::HashSet<(u64, Message)> = inside()
        .filter(|event| matches!(event.message, Message::NoteOff { .. }))
        .map(|event| (event.tick, event.message))
        .collect();
    let (mut velocities_changed, mut offs_moved) = (0, 0);
    for sent in sent {
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { .. }) => {
                let played = performance.fed.get(tag as usize).map(|event| event.message);
                velocities_changed += usize::from(played != Some(sent.message));
            }
            (Origin::Note(_), message) => {
                offs_moved += usize::from(!offs.contains(&(sent.tick, message)));
            }
            _ => {}
        }
    }
    let last_tick = performance.fed.last().map_or(0, |event| event.tick);
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
fn decide(fates: &mut [Vec<Fate>], performance: &Performance, region: Region) {
    for event in performance.fed.iter().filter(|event| region.holds(event.tick)) {
        fates[event.track][event.index] = match event.message {
            Message::NoteOn { .. } | Message::NoteOff { .. } => Fate::Note,
            _ => Fate::Consumed,
        };
    }
    for event in performance.switches.iter().filter(|event| region.holds(event.tick)) {
        fates[event.track][event.index] = Fate::Consumed;
    }
    for sent in &performance.sent {
        if let Origin::Passed(tag) = sent.origin
            && let Some(event) = performance.fed.get(tag as usize)
            && fates[event.track][event.index] == Fate::Consumed
        {
            fates[event.track][event.index] = Fate::Passed;
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
