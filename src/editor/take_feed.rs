//! A take in a MIDI file behind the window: it is played in time through the engine, but not heard.

use std::collections::VecDeque;

use super::feed::{Feed, InputMessage, Order, Snapshot, TakeTransport};
use super::recent::SPAN_S;
use crate::engine::patch::Patch;
use crate::engine::{Input, Message, Origin, Section, Sink, Timed};
use crate::offline::Error;
use crate::offline::midi::{File, TempoMap, read};
use crate::offline::perform::{Placed, RATE_HZ, heard};
use crate::offline::take::line;

/// From one snapshot to the next, frames: a hundredth of a second.
const STEP_FRAMES: u64 = RATE_HZ as u64 / 100;
/// How much of a hand alone is heard at once, frames: a second.
const HEARD_FRAMES: u64 = RATE_HZ as u64;
/// How long the line goes on after the take's last event, seconds, so that tails and sends end.
const AFTER_S: f64 = 3.0;
/// If the window was not drawn for longer, only so much is made up for, seconds.
const PAUSE_S_MAX: f64 = 0.5;
/// The tag of the notes that the window sends; the take's own count up from 0.
const WINDOW_TAG: u32 = u32::MAX - 1;

/// A take and the engine that plays it.
pub struct TakeFeed {
    take: Option<(File, TempoMap)>,
    inputs: Vec<Placed>,
    /// Every message of the take on the line's channel, by frame, to learn controllers from.
    messages: Vec<(u64, Message)>,
    engine: Section,
    patch: Patch,
    /// The test of an output is under way, and the take stands.
    is_trying: bool,
    frame: u64,
    end_frame: u64,
    is_running: bool,
    /// Time that has gone by and was not played yet, frames, less than a step.
    owed_frames: f64,
    clock_s: f64,
    waiting: Vec<Input>,
    snapshots: VecDeque<Snapshot>,
    heard: VecDeque<InputMessage>,
}

/// Counts what goes out.
struct SentCounter(u32);

impl Sink for SentCounter {
    fn send(&mut self, _: u32, _: Message, _: Origin) -> bool {
        self.0 += 1;
        true
    }
}

impl TakeFeed {
    /// No take: nothing plays but the tests of outputs.
    pub fn silent(patch: &Patch) -> TakeFeed {
        TakeFeed {
            take: None,
            inputs: Vec::new(),
            messages: Vec::new(),
            engine: Section::prepare(f64::from(RATE_HZ), patch),
            patch: *patch,
            is_trying: false,
            frame: 0,
            end_frame: 0,
            is_running: false,
            owed_frames: 0.0,
            clock_s: 0.0,
            waiting: Vec::new(),
            snapshots: VecDeque::new(),
            heard: VecDeque::new(),
        }
    }

    /// The first line of a take, the bytes of a MIDI file, that carries the gesture.
    ///
    /// # Errors
    /// What is wrong with the file, or that there is no line in it.
    pub fn open(bytes: &[u8], patch: &Patch) -> Result<TakeFeed, Error> {
        let file = read::read(bytes)?;
        let clock = TempoMap::of(&file);
        let mut feed = TakeFeed::silent(patch);
        feed.choose(&file, &clock)?;
        feed.take = Some((file, clock));
        feed.seek(0.0);
        Ok(feed)
    }

    fn choose(&mut self, file: &File, clock: &TempoMap) -> Result<(), Error> {
        let source = self.patch.hand.source;
        let choice = line::choose(file, source, &[], &[]).or_else(|error| {
            // Without a gesture the notes still play, at rest.
            let first = file.tracks.iter().position(has_notes);
            first.map_or(Err(error), |track| line::choose(file, source, &[track + 1], &[]))
        })?;
        let line = choice.lines[0];
        self.inputs = heard(file, clock, source, &line);
        let mut messages: Vec<(u64, Message)> = Vec::new();
        for event in file.tracks.iter().flat_map(|track| &track.events) {
            if let Some(message) = event.message().filter(|it| it.channel() == line.channel) {
                messages.push((clock.frame_at(event.tick, RATE_HZ), message));
            }
        }
        messages.sort_by_key(|(frame, _)| *frame);
        self.messages = messages;
        let last = self.inputs.last().map_or(0, |(frame, _)| *frame);
        self.end_frame = last + (AFTER_S * f64::from(RATE_HZ)) as u64;
        Ok(())
    }

    /// Plays another patch. If its hand has another source, the take's line that has this source
    /// plays; if there is none, the line stays.
    fn take_patch(&mut self, patch: &Patch) {
        let is_other = patch.hand.source != self.patch.hand.source;
        self.patch = *patch;
        self.is_trying = false;
        if is_other && let Some((file, clock)) = self.take.take() {
            // A take without that source plays on as it was.
            let _ = self.choose(&file, &clock);
            self.take = Some((file, clock));
        }
        if self.is_running || self.take.is_none() {
            self.engine.load(patch);
        } else {
            self.seek(self.frame as f64 / f64::from(RATE_HZ));
        }
    }

    /// The last value of every controller before frame `start`, and the keys that are down there:
    /// given to a fresh engine, it begins there as if it had played up to there.
    fn chased(&self, start: u64) -> Vec<Timed> {
        let (mut found, mut held): (Vec<Timed>, Vec<Timed>) = (Vec::new(), Vec::new());
        let is_same = |one: Input, other: Input| match (one, other) {
            (Input::Song { .. }, Input::Song { .. }) => true,
            (one, other) => match (one.message(), other.message()) {
                (
                    Some(Message::Controller { number, .. }),
                    Some(Message::Controller { number: other, .. }),
                ) => number == other,
                (Some(one), Some(other)) => {
                    std::mem::discriminant(&one) == std::mem::discriminant(&other)
                }
                _ => false,
            },
        };
        for (_, timed) in self.inputs.iter().take_while(|(frame, _)| *frame < start) {
            if matches!(timed.input, Input::Wish(_)) {
                // It belonged to the note that began with it.
                continue;
            }
            match timed.input.message() {
                Some(Message::NoteOff { key, .. }) => {
                    held.retain(|old| key_of(old.input) != Some(key));
                    continue;
                }
                Some(Message::NoteOn { key, .. }) => {
                    held.retain(|old| key_of(old.input) != Some(key));
                    held.push(Timed { frame: 0, ..*timed });
                    continue;
                }
                _ => found.retain(|old| !is_same(old.input, timed.input)),
            }
            found.push(Timed { frame: 0, ..*timed });
        }
        found.append(&mut held);
        found
    }

    /// The hand has come up before frame `start`, so that from there on it may lie at rest for a
    /// silence. It is heard from the beginning of the take, without the notes, until it does.
    fn has_come_up_before(&self, start: u64) -> bool {
        let mut engine = Section::prepare(f64::from(RATE_HZ), &self.patch);
        let mut count = SentCounter(0);
        let is_hands = |input: Input| {
            !matches!(input.message(), Some(Message::NoteOn { .. } | Message::NoteOff { .. }))
        };
        let mut rest = &self.inputs[..];
        let mut frame = 0;
        while frame < start && engine.niente_from().is_none() {
            let end = start.min(frame + HEARD_FRAMES);
            let (now, later) = rest.split_at(rest.partition_point(|(at, _)| *at < end));
            rest = later;
            let now = now.iter().filter(|(_, timed)| is_hands(timed.input));
            let place = |(at, timed): &(u64, Timed)| Timed { frame: (at - frame) as u32, ..*timed };
            engine.process((end - frame) as u32, &now.map(place).collect::<Vec<_>>(), &mut count);
            frame = end;
        }
        engine.niente_from().is_some()
    }

    /// Plays a hundredth of a second, with what the window sent, and with the take's own events if
    /// `is_running`.
    fn step(&mut self, is_running: bool) {
        let mut block: Vec<Timed> = Vec::new();
        for input in self.waiting.drain(..) {
            block.push(Timed { frame: 0, tag: WINDOW_TAG, input });
        }
        if is_running {
            let end = self.frame + STEP_FRAMES;
            let from = self.inputs.partition_point(|(frame, _)| *frame < self.frame);
            let fed = self.inputs[from..].iter().take_while(|(frame, _)| *frame < end);
            block.extend(
                fed.map(|(frame, timed)| Timed { frame: (frame - self.frame) as u32, ..*timed }),
            );
            let from = self.messages.partition_point(|(frame, _)| *frame < self.frame);
            let heard = self.messages[from..].iter().take_while(|(frame, _)| *frame < end);
            let at_s = self.clock_s;
            self.heard.extend(heard.map(|(_, message)| InputMessage { at_s, message: *message }));
            self.frame = end;
        }
        let mut count = SentCounter(0);
        self.engine.process(STEP_FRAMES as u32, &block, &mut count);
        self.clock_s += STEP_FRAMES as f64 / f64::from(RATE_HZ);
        let (view, losses) = (self.engine.view(), self.engine.losses());
        self.snapshots.push_back(Snapshot { at_s: self.clock_s, view, losses, sent: count.0 });
    }

    /// Something is to be played although the take stands.
    fn is_live(&self) -> bool {
        !self.waiting.is_empty() || self.is_trying
    }
}

/// The key that an input strikes.
fn key_of(input: Input) -> Option<u8> {
    match input.message() {
        Some(Message::NoteOn { key, .. }) => Some(key),
        _ => None,
    }
}

fn has_notes(track: &crate::offline::midi::Track) -> bool {
    track.events.iter().any(|event| matches!(event.message(), Some(Message::NoteOn { .. })))
}

impl Feed for TakeFeed {
    fn read(&mut self) -> Option<Snapshot> {
        self.snapshots.pop_front()
    }

    fn hear(&mut self) -> Option<InputMessage> {
        self.heard.pop_front()
    }

    fn order(&mut self, order: Order) {
        match order {
            Order::Play(setup) => self.take_patch(&setup.patch),
            Order::Try(patch) => {
                self.is_running = false;
                self.is_trying = true;
                self.engine = Section::prepare(f64::from(RATE_HZ), &patch);
            }
            Order::Input(input) => self.waiting.push(input),
            // A file's take has no host in which it could be played live, recorded or printed.
            Order::ComputerHand | Order::RecordAnew | Order::Ask(_) | Order::Printed(_) => {}
        }
    }

    fn pass(&mut self, elapsed_s: f64) {
        let is_live = self.is_live();
        if !self.is_running && !is_live {
            self.owed_frames = 0.0;
            return;
        }
        self.owed_frames += elapsed_s.clamp(0.0, PAUSE_S_MAX) * f64::from(RATE_HZ);
        while self.owed_frames >= STEP_FRAMES as f64 {
            self.owed_frames -= STEP_FRAMES as f64;
            self.step(self.is_running);
            if self.is_running && self.frame >= self.end_frame {
                self.is_running = false;
            }
        }
    }

    fn transport(&self) -> Option<TakeTransport> {
        self.take.as_ref()?;
        Some(TakeTransport {
            place_s: self.frame as f64 / f64::from(RATE_HZ),
            length_s: self.end_frame as f64 / f64::from(RATE_HZ),
            is_running: self.is_running,
        })
    }

    fn seek(&mut self, place_s: f64) {
        let place = (place_s.max(0.0) * f64::from(RATE_HZ)) as u64;
        let place = place.min(self.end_frame) / STEP_FRAMES * STEP_FRAMES;
        let start = place.saturating_sub((SPAN_S * f64::from(RATE_HZ)) as u64);
        let start = start / STEP_FRAMES * STEP_FRAMES;
        self.engine = Section::prepare(f64::from(RATE_HZ), &self.patch);
        if self.has_come_up_before(start) {
            self.engine.restore_niente(Some(i32::MIN));
        }
        self.is_trying = false;
        self.waiting = self.chased(start).into_iter().map(|timed| timed.input).collect();
        self.snapshots.clear();
        self.frame = start;
        self.clock_s = start as f64 / f64::from(RATE_HZ);
        if place == 0 {
            self.step(false);
        }
        while self.frame < place {
            self.step(true);
        }
        // What was passed over in winding was not played.
        self.heard.clear();
    }

    fn run(&mut self, is_running: bool) {
        if is_running && self.frame >= self.end_frame {
            self.seek(0.0);
        }
        self.is_running = is_running && self.take.is_some();
    }
}
