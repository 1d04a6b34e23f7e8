//! Plays one line, keeps what it sends inside the region, and counts what changed.

use std::collections::HashSet;
use std::ops::Range;

use super::confine::confine;
use super::lanes::{LaneRule, Lanes};
use super::report::{self, LineReport, LineTally, Silence};
use crate::engine::patch::NotesPatch;
use crate::engine::{Message, Origin};
use crate::offline::destination::Destination;
use crate::offline::error::Error;
use crate::offline::midi::TempoMap;
use crate::offline::perform::{
    self, Asked, Fed, Performance, RATE_HZ, Raster, SentMessage, WishOutcomes, articulation_changes,
};
use crate::offline::take::line::TakeLine;
use crate::offline::take::{PreparedTake, Region, Settings, text};
use crate::profile::address::source_text;
use crate::profile::voices::voices_in_full;

/// How often the report looks at the engine: every 10 ms.
const LOOKS: Raster = Raster::Changes(RATE_HZ / 100);

/// One line as performed inside the region.
pub struct PlayedLine {
    /// What went in.
    pub fed: Vec<Fed>,
    /// The keys of the take that chose articulations.
    pub switches: Vec<Fed>,
    /// What came out.
    pub sent: Vec<SentMessage>,
    /// The tags of what passed.
    pub passed: Vec<u32>,
    /// What of the take would have met it.
    pub lanes: Lanes,
}

/// Plays one line and counts what happens in the region. Where lanes of the take stand in its way
/// it is played once more without them, so that no output comes back after them.
///
/// # Errors
/// As [`perform::perform`]; [`Error::Lanes`].
pub fn play(
    take: &PreparedTake,
    settings: &Settings,
    line: &TakeLine,
    rule: LaneRule,
) -> Result<(PlayedLine, LineReport), Error> {
    let played = play_over(take, settings, line, Lanes::default(), rule)?;
    let lanes = Lanes::of(take, settings, line, &played.0.sent);
    match rule {
        _ if lanes.is_empty() => Ok(played),
        LaneRule::Refuse => Err(Error::Lanes { lanes: lanes.sentences() }),
        LaneRule::Replace | LaneRule::Keep => play_over(take, settings, line, lanes, rule),
    }
}

fn play_over(
    take: &PreparedTake,
    settings: &Settings,
    line: &TakeLine,
    lanes: Lanes,
    rule: LaneRule,
) -> Result<(PlayedLine, LineReport), Error> {
    let PreparedTake { file, clock, region, .. } = take;
    let (region, Settings { patch, styles, .. }) = (*region, settings);
    let end_frame = match region.end {
        u64::MAX => u64::MAX,
        end => clock.frame_at(end, RATE_HZ),
    };
    let resync_tick = (region != Region::ALL).then_some(region.start);
    let left_out = lanes.destinations();
    let asked = Asked { resync_tick, left_out, ..take.asked(line, settings) };
    let mut answers = WishOutcomes::new(&asked, region, clock);
    let mut tally = LineTally::new(clock.frame_at(region.start, RATE_HZ)..end_frame);
    let performance = perform::perform(file, clock, patch, line, &asked, LOOKS, |look| {
        tally.look(&look);
        answers.look(&look);
    })?;
    let changes = articulation_changes(&asked, &performance, take, settings);
    let Performance { fed, switches, sent, losses } = performance;
    let passed = sent.iter().filter_map(|sent| match sent.origin {
        Origin::Passed(tag) => Some(tag),
        _ => None,
    });
    let passed = passed.collect();
    let mut sent = confine(sent, &fed, &lanes.elsewhere, region, &patch.target);
    if rule == LaneRule::Keep {
        let kept = lanes.kept_destinations(&patch.target);
        sent.retain(|sent| !sent.is_layer_at(&kept));
    }
    let played = PlayedLine { fed, switches, sent, passed, lanes };
    let mut report = account(clock, line, &played, region, &patch.notes);
    report.articulations = changes.iter().map(ToString::to_string).collect();
    report.wishes = answers.sentences(&take.requests, styles);
    report.source = source_text(patch.hand.source);
    report.voices = voices_in_full(&patch.voices);
    report.transition = patch.target.transition.way.name();
    report.outputs = report::outputs(&played.sent, styles, report.length_s);
    let silence = |frames: &Range<u64>| Silence {
        beat: text::beat(take.metre.as_ref(), clock.tick_near(frames.start, RATE_HZ), take.factor),
        length_s: (frames.end - frames.start) as f64 / f64::from(RATE_HZ),
    };
    report.silences = tally.silences().iter().map(silence).collect();
    tally.fill(&mut report, losses);
    Ok((played, report))
}

/// A note as it was played, whichever voice's channel it is heard on.
fn on_channel(message: Message, channel: u8) -> Message {
    match message {
        Message::NoteOn { key, velocity, .. } => Message::NoteOn { channel, key, velocity },
        Message::NoteOff { key, velocity, .. } => Message::NoteOff { channel, key, velocity },
        other => other,
    }
}

/// The numbers of a line: length, notes, what was consumed and changed.
fn account(
    clock: &TempoMap,
    line: &TakeLine,
    played: &PlayedLine,
    region: Region,
    notes: &NotesPatch,
) -> LineReport {
    let PlayedLine { fed, sent, lanes, .. } = played;
    let left_out = lanes.destinations();
    let is_left_out = |message: Message| left_out.contains(&Destination::of(message).0);
    let inside = || fed.iter().filter(|event| region.holds(event.tick));
    let is_note =
        |message: Message| matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
    let passed = sent.iter().filter(|sent| matches!(sent.origin, Origin::Passed(_))).count();
    let offs: HashSet<(u64, Message)> = inside()
        .filter(|event| matches!(event.message, Message::NoteOff { .. }))
        .map(|event| (event.tick, event.message))
        .collect();
    let (mut velocities_changed, mut offs_moved, mut struck_again) = (0, 0, 0);
    for sent in sent {
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { .. }) => {
                let played = fed.get(tag as usize);
                // A key that stayed down under another may be struck again when that one lifts.
                let is_again = played.is_some_and(|event| event.tick != sent.tick);
                struck_again += usize::from(is_again);
                let is_changed = played.map(|event| event.message)
                    != Some(on_channel(sent.message, line.channel));
                velocities_changed += usize::from(is_changed && !is_again);
            }
            (Origin::Note(_), message) => {
                offs_moved +=
                    usize::from(!offs.contains(&(sent.tick, on_channel(message, line.channel))));
            }
            _ => {}
        }
    }
    let ons = inside().filter_map(|event| match event.message {
        Message::NoteOn { key, .. } => Some(key),
        _ => None,
    });
    let (foreign, own): (Vec<u8>, Vec<u8>) = ons.partition(|key| notes.is_foreign(*key));
    let last_tick = fed.last().map_or(0, |event| event.tick);
    LineReport {
        track: line.track + 1,
        channel: line.channel + 1,
        notes: own.len(),
        foreign_notes: foreign.len(),
        length_s: region.length_s(clock, last_tick),
        consumed: inside()
            .filter(|event| !is_note(event.message) && !is_left_out(event.message))
            .count()
            .saturating_sub(passed),
        velocities_changed,
        offs_moved,
        struck_again,
        ..LineReport::default()
    }
}
