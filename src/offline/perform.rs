//! Plays one line through the engine, note by note at the very ticks of the take.

use super::Error;
use super::articulation::Chosen;
use super::line::{self, Line};
use super::midi::{Clock, File};
use super::wish::Wished;
use crate::engine::event::{Input, Message, Origin, Sink, Timed};
use crate::engine::patch::{HandPatch, Patch, Source};
use crate::engine::{Engine, Losses, View};

/// Frames a second of every offline run.
pub const RATE_HZ: u32 = 48_000;
/// The longest line, hours.
pub const HOURS_MAX: u64 = 24;
/// How long the engine runs on after the last event, at least: tails, sends and offs end.
const AFTER_S_MIN: u64 = 3;
/// How long at most.
const AFTER_S_MAX: u64 = 30;
/// The longest piece of time that the engine plays at once, frames.
const PIECE_FRAMES_MAX: u64 = 1 << 31;
/// The tag of what stands in no file: the song's position, offs that the take owes.
const NO_TAG: u32 = u32::MAX;

/// An event of the file that the engine hears. Its tag is its place in [`Performance::fed`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fed {
    /// When.
    pub tick: u64,
    /// In which track, from 0.
    pub track: usize,
    /// Which event of that track, from 0.
    pub index: usize,
    /// What.
    pub message: Message,
}

/// A message of the engine at its tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sent {
    /// When.
    pub tick: u64,
    /// What.
    pub message: Message,
    /// Why.
    pub origin: Origin,
}

/// When an observer looks, beside every note-on. The first time is frame 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Raster {
    /// Every so many frames (1 and up).
    All(u32),
    /// Every so many frames (1 and up) while anything changes.
    Changes(u32),
}

impl Raster {
    fn frames(self) -> u64 {
        let (Raster::All(frames) | Raster::Changes(frames)) = self;
        u64::from(frames.max(1))
    }
}

/// What an observer sees after each piece of time.
pub struct Look<'a> {
    /// Frames up to here, since the start of the file.
    pub frame: u64,
    /// Frames of this piece.
    pub frames: u32,
    /// Whether the observer's own raster falls here; else a note has just begun.
    pub is_on_raster: bool,
    /// The tick of a note that has just begun.
    pub begun: Option<u64>,
    /// The engine's values.
    pub view: &'a View,
}

/// One line as performed.
#[derive(Debug)]
pub struct Performance {
    /// What went in.
    pub fed: Vec<Fed>,
    /// The keys of the take that chose articulations, their offs too.
    pub switches: Vec<Fed>,
    /// What came out, in order.
    pub sent: Vec<Sent>,
    /// What could not be done.
    pub losses: Losses,
}

/// Which messages of a performance are kept. A line of hours sends more than is held lightly.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KeptMessages {
    /// All.
    #[default]
    All,
    /// The ons and offs of the take's notes.
    Notes,
    /// None: only an observer looks on.
    None,
}

impl KeptMessages {
    fn keeps(self, origin: Origin) -> bool {
        match self {
            KeptMessages::All => true,
            KeptMessages::Notes => matches!(origin, Origin::Note(_)),
            KeptMessages::None => false,
        }
    }
}

/// What is asked of a performance beside the take's own messages.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// What comes of it.
    pub kept: KeptMessages,
    /// Every output is sent again here.
    pub resync_tick: Option<u64>,
    /// Wishes for single notes, in order of ticks.
    pub wishes: Vec<Wished>,
    /// Articulations, in order of ticks.
    pub articulations: Vec<Chosen>,
}

/// Plays `line` of `file` as `asked`; `observe` is called as `raster` says.
///
/// # Errors
/// [`Error::TooLong`] if the line lasts longer than [`HOURS_MAX`].
pub fn perform(
    file: &File,
    clock: &Clock,
    patch: &Patch,
    line: &Line,
    asked: &Asked,
    raster: Raster,
    observe: impl FnMut(Look),
) -> Result<Performance, Error> {
    let (switches, fed): (Vec<Fed>, Vec<Fed>) = fed(file, patch.hand.source, line)
        .into_iter()
        .partition(|event| switch(&patch.hand, event.message).is_some());
    let chosen = |event: &Fed| match event.message {
        Message::NoteOn { .. } => {
            let (tick, articulation) = (event.tick, switch(&patch.hand, event.message)?);
            Some(Chosen { tick, written_tick: tick, articulation })
        }
        _ => None,
    };
    let chosen: Vec<Chosen> = switches.iter().filter_map(chosen).collect();
    let (inputs, table) = inputs(file, clock, line, &fed, asked, &chosen);
    let last_frame = table.last().map_or(0, |(_, frame)| *frame);
    if last_frame > HOURS_MAX * 3600 * u64::from(RATE_HZ) {
        let hours = last_frame as f64 / f64::from(RATE_HZ) / 3600.0;
        return Err(Error::TooLong { track: line.track + 1, hours, hours_max: HOURS_MAX });
    }
    let patch = Patch { home_channel: line.channel, ..*patch };
    let mut run = Run {
        engine: Engine::prepare(f64::from(RATE_HZ), &patch),
        inputs: &inputs,
        fed: &fed,
        block: Vec::new(),
        out: Collected { start: 0, kept: asked.kept, sent: Vec::new() },
        raster,
        observe,
    };
    run.play(last_frame);
    let losses = run.engine.losses();
    let sent = at_ticks(&run.out.sent, &table, clock);
    Ok(Performance { fed, switches, sent, losses })
}

/// The articulation that the key of a note chooses instead of sounding.
fn switch(hand: &HandPatch, message: Message) -> Option<u8> {
    match message {
        Message::NoteOn { key, .. } | Message::NoteOff { key, .. } => hand.articulation_of(key),
        _ => None,
    }
}

/// The events that the engine hears: those of the line's own channel, and the gesture.
fn fed(file: &File, source: Source, line: &Line) -> Vec<Fed> {
    let heard = |track: usize| {
        file.tracks[track].events.iter().enumerate().filter_map(move |(index, event)| {
            let message = event.message().filter(|message| message.channel() == line.channel)?;
            Some(Fed { tick: event.tick, track, index, message })
        })
    };
    let mut fed: Vec<Fed> = heard(line.track).collect();
    if line.gesture_track != line.track {
        let gesture = heard(line.gesture_track);
        fed.extend(gesture.filter(|event| line::carries(source, event.message)));
        fed.sort_by_key(|event| event.tick);
    }
    fed
}

/// What the engine hears of a line, each with its frame since the start of the file, for whoever
/// plays it at leisure. What stands in no file has the tag `u32::MAX`.
pub fn heard(file: &File, clock: &Clock, source: Source, line: &Line) -> Vec<Placed> {
    let fed = fed(file, source, line);
    inputs(file, clock, line, &fed, &Asked::default(), &[]).0
}

/// An input and its frame since the start of the file.
pub type Placed = (u64, Timed);

/// Everything the engine hears, with frames, and the table of ticks and their frames. Each
/// tick on which something happens has a frame of its own. `by_key` are articulations that keys
/// of the take choose.
fn inputs(
    file: &File,
    clock: &Clock,
    line: &Line,
    fed: &[Fed],
    asked: &Asked,
    by_key: &[Chosen],
) -> (Vec<Placed>, Vec<(u64, u64)>) {
    let owed = owed_offs(file, line, fed);
    let ends = [owed.last().map(|(tick, _)| *tick), fed.last().map(|event| event.tick)];
    let last_tick = ends.into_iter().flatten().max().unwrap_or(0);
    let song = clock.tempo_ticks().filter(|tick| *tick <= last_tick).map(|tick| {
        let (beat, tempo_bpm) = (clock.beat_at(tick), clock.tempo_bpm_at(tick));
        (tick, NO_TAG, Input::Song { beat, tempo_bpm, running: true })
    });
    let mut all: Vec<(u64, u32, Input)> = song.collect();
    all.extend(
        asked
            .resync_tick
            .filter(|tick| *tick <= last_tick)
            .map(|tick| (tick, NO_TAG, Input::Resync)),
    );
    let chosen = asked.articulations.iter().chain(by_key);
    let chosen = chosen.filter(|chosen| chosen.tick <= last_tick);
    all.extend(chosen.map(|it| (it.tick, NO_TAG, Input::Articulation(it.articulation))));
    all.extend(asked.wishes.iter().map(|wished| (wished.tick, NO_TAG, Input::Wish(wished.wish))));
    all.extend(
        fed.iter()
            .enumerate()
            .map(|(tag, event)| (event.tick, tag as u32, Input::Midi(event.message))),
    );
    all.extend(owed.into_iter().map(|(tick, message)| (tick, NO_TAG, Input::Midi(message))));
    all.sort_by_key(|(tick, ..)| *tick); // stable: song, resync, words, events in their order, owed offs
    let mut table: Vec<(u64, u64)> = Vec::new();
    let mut inputs = Vec::with_capacity(all.len());
    for (tick, tag, input) in all {
        let frame = match table.last() {
            Some((last_tick, last_frame)) if *last_tick == tick => *last_frame,
            Some((_, last_frame)) => clock.frame_at(tick, RATE_HZ).max(last_frame + 1),
            None => clock.frame_at(tick, RATE_HZ),
        };
        if table.last().is_none_or(|(last_tick, _)| *last_tick != tick) {
            table.push((tick, frame));
        }
        inputs.push((frame, Timed { frame: 0, tag, input }));
    }
    (inputs, table)
}

/// The offs of keys that the take never lifts, at the end of its track.
fn owed_offs(file: &File, line: &Line, fed: &[Fed]) -> Vec<(u64, Message)> {
    let mut held = [0_u32; 128];
    for event in fed {
        match event.message {
            Message::NoteOn { key, .. } => held[usize::from(key)] += 1,
            Message::NoteOff { key, .. } => {
                let count = &mut held[usize::from(key)];
                *count = count.saturating_sub(1);
            }
            _ => {}
        }
    }
    let (tick, channel) = (file.tracks[line.track].end_tick, line.channel);
    let offs = (0..128_u8).flat_map(|key| {
        let off = Message::NoteOff { channel, key, velocity: 64 };
        std::iter::repeat_n((tick, off), held[usize::from(key)] as usize)
    });
    offs.collect()
}

/// What the engine has sent so far, with frames since the start of the file.
struct Collected {
    start: u64,
    kept: KeptMessages,
    sent: Vec<(u64, Message, Origin)>,
}

impl Sink for Collected {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        if self.kept.keeps(origin) {
            self.sent.push((self.start + u64::from(frame), message, origin));
        }
        true
    }
}

struct Run<'a, F: FnMut(Look)> {
    engine: Engine,
    inputs: &'a [Placed],
    fed: &'a [Fed],
    block: Vec<Timed>,
    out: Collected,
    raster: Raster,
    observe: F,
}

impl<F: FnMut(Look)> Run<'_, F> {
    fn play(&mut self, last_frame: u64) {
        let rate = u64::from(RATE_HZ);
        while self.out.start <= last_frame {
            self.piece();
        }
        let end_min = last_frame + AFTER_S_MIN * rate;
        let end_max = last_frame + AFTER_S_MAX * rate;
        while self.out.start < end_max {
            if self.out.start >= end_min && self.engine.is_settled() {
                break;
            }
            self.piece();
        }
        self.engine.finish(&mut self.out);
    }

    /// The end of the piece that begins at `start`. A point of the raster is heard when its own
    /// frame has been played; points at which nothing changes may be left out.
    fn raster_end(&self, start: u64) -> u64 {
        let raster = self.raster.frames();
        let next = start.div_ceil(raster) * raster + 1;
        let far = match (self.raster, self.inputs.first()) {
            (Raster::Changes(_), Some((frame, _))) if *frame > next + raster => {
                (frame - 1) / raster * raster + 1
            }
            _ => return next,
        };
        if self.engine.is_settled() { far.min(start + PIECE_FRAMES_MAX) } else { next }
    }

    /// Plays to the next point of the raster, or to the next note if that comes first.
    fn piece(&mut self) {
        let start = self.out.start;
        let raster_end = self.raster_end(start);
        let mut end = raster_end;
        let mut begun = None;
        self.block.clear();
        while let Some(&(frame, timed)) = self.inputs.first() {
            if frame >= end {
                break;
            }
            if matches!(timed.input, Input::Midi(Message::NoteOn { .. })) {
                begun = self.fed.get(timed.tag as usize).map(|event| event.tick);
                end = frame + 1;
            }
            self.block.push(Timed { frame: (frame - start) as u32, ..timed });
            self.inputs = &self.inputs[1..];
        }
        let frames = (end - start) as u32;
        self.engine.process(frames, &self.block, &mut self.out);
        self.out.start = end;
        let view = self.engine.view();
        let is_on_raster = end == raster_end;
        (self.observe)(Look { frame: end, frames, is_on_raster, begun, view: &view });
    }
}

/// Frames back to ticks: a frame on which something happened goes to its tick exactly, any other
/// to the nearest tick between its neighbours.
fn at_ticks(sent: &[(u64, Message, Origin)], table: &[(u64, u64)], clock: &Clock) -> Vec<Sent> {
    let mut place = 0;
    let each = sent.iter().map(|&(frame, message, origin)| {
        while table.get(place + 1).is_some_and(|(_, next)| *next <= frame) {
            place += 1;
        }
        let after = table.get(place + 1).map_or(u64::MAX, |(tick, _)| *tick);
        let tick = match table.get(place) {
            Some(&(tick, at)) if at == frame => tick,
            Some(&(before, at)) if at < frame => nearest_tick(clock, frame).clamp(before, after),
            _ => nearest_tick(clock, frame).min(after),
        };
        Sent { tick, message, origin }
    });
    each.collect()
}

fn nearest_tick(clock: &Clock, frame: u64) -> u64 {
    clock.tick_at(frame as f64 / f64::from(RATE_HZ)).round() as u64
}
