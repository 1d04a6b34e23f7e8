//! One line, played live: blocks of the host become the engine's time, and back.

use std::marker::PhantomData;
use std::ops::RangeInclusive;
use std::sync::Arc;

use nice_plug::prelude::{Plugin, PluginApi, ProcessContext, ProcessStatus};

use super::arrivals::{Arrival, Event, read, renamed};
use super::bank::{Bank, Opening};
use super::departures::{Departures, Way};
use super::desk::Tray;
use super::exclusive::Exclusive;
use super::meter::{FRAME_S, Frame, Pen};
use super::parameters::Parameters;
use super::song::Song;
use super::voices::{NO_VOICE, Voices};
use crate::engine::event::{Input, Parameter, Timed};
use crate::engine::patch::Source;
use crate::engine::{Engine, Losses};

/// Events that are held at once; a block with more is played in pieces.
const EVENTS_MAX: usize = 1024;
/// What the engine can play at; at 0 its first tick would never come to an end.
const SAMPLE_RATES_HZ: RangeInclusive<f64> = 8_000.0..=768_000.0;
/// Control inputs that one block can begin with: the song, the gesture, three buttons, the knobs.
const CONTROLS_MAX: usize = 5 + Parameter::ALL.len();
/// Wishes of a window that one block can begin with; more wait for the next.
const WISHES_MAX: usize = 64;

/// Plays a bank's patches through one engine.
pub struct Player {
    engine: Engine,
    bank: Box<Bank>,
    tray: Arc<Tray>,
    /// Settings that nobody has taken back yet.
    spent: Option<Box<Bank>>,
    slots: (usize, usize),
    /// Which project of the host's it is, and the articulation as last said to it.
    opening: u64,
    articulation: Option<u8>,
    heard: Heard,
    song: Song,
    voices: Voices,
    queue: Vec<Timed>,
    passed: Vec<Event>,
    /// Events that the host queued for the first frames of the next block.
    early: Vec<Event>,
    pen: Pen,
    sample_rate_hz: f64,
    frames: u64,
    frames_to_show: u32,
    /// Messages that have gone out since a frame was shown.
    sent: u32,
    dropped: u64,
}

/// The controls as the engine last heard them.
struct Heard {
    knobs: [Option<f64>; Parameter::ALL.len()],
    /// An automation that has never moved leaves the gesture unknown.
    gesture: Option<f64>,
    is_bypass: bool,
    is_resync: bool,
    is_panic: bool,
}

impl Heard {
    /// The engine keeps its knobs through a reset, not the gesture.
    const NOTHING: Heard = Heard {
        knobs: [None; Parameter::ALL.len()],
        gesture: Some(0.0),
        is_bypass: false,
        is_resync: false,
        is_panic: false,
    };
}

impl Player {
    /// A player of what lies on the tray; `None` if there is nothing that can be played.
    pub fn prepare(tray: Arc<Tray>, pen: Pen) -> Option<Player> {
        const SAMPLE_RATE_HZ: f64 = 48_000.0;
        let bank = tray.take()?;
        let engine = Engine::prepare(SAMPLE_RATE_HZ, bank.first()?);
        let mut player = Player {
            engine,
            bank,
            tray,
            spent: None,
            slots: (0, 0),
            opening: 0,
            articulation: None,
            heard: Heard::NOTHING,
            song: Song::default(),
            voices: Voices::SILENT,
            queue: Vec::with_capacity(EVENTS_MAX + CONTROLS_MAX + WISHES_MAX),
            passed: Vec::with_capacity(EVENTS_MAX),
            early: Vec::with_capacity(EVENTS_MAX),
            pen,
            sample_rate_hz: SAMPLE_RATE_HZ,
            frames: 0,
            frames_to_show: 0,
            sent: 0,
            dropped: 0,
        };
        player.reset();
        Some(player)
    }

    /// Off the audio thread: the host will play at this rate from now on. False, and nothing
    /// changes, if the engine knows no such rate.
    pub fn activate(&mut self, sample_rate_hz: f64) -> bool {
        if !SAMPLE_RATES_HZ.contains(&sample_rate_hz) {
            return false;
        }
        if sample_rate_hz != self.sample_rate_hz {
            self.sample_rate_hz = sample_rate_hz;
            self.engine.retime(sample_rate_hz);
        }
        self.frames = 0;
        self.reset();
        true
    }

    /// Forgets what was played; offs still owed come first in the next block.
    pub fn reset(&mut self) {
        self.engine.reset();
        self.song.forget();
        self.early.clear();
        self.heard.gesture = self.untouched_gesture();
    }

    /// A source that is only automation is known from the start.
    fn untouched_gesture(&self) -> Option<f64> {
        let (instrument, target) = self.slots;
        let patch = self.bank.patch(instrument, target).or(self.bank.first());
        let is_automated = patch.is_some_and(|patch| patch.hand.source == Source::Parameter);
        (!is_automated).then_some(0.0)
    }

    /// Plays a block, or the part of one between two changes of a control.
    pub fn play<P, C>(
        &mut self,
        frames: u32,
        controls: &Parameters,
        context: &mut C,
    ) -> ProcessStatus
    where
        P: Plugin<SysExMessage = Exclusive>,
        C: ProcessContext<P>,
    {
        self.take_settings(controls);
        self.queue.clear();
        self.passed.clear();
        if let Some(song) = self.song.hear(context.transport(), self.sample_rate_hz) {
            self.control(song);
        }
        self.hear_controls(controls);
        for _ in 0..WISHES_MAX {
            let Some(wish) = self.pen.wish() else { break };
            self.control(wish);
        }
        let api = context.plugin_api();
        let mut start = 0;
        let early_count = self.early.len();
        for place in 0..early_count {
            let event = self.early[place];
            start = self.hear::<P, C>(start, frames, &event, api, context);
        }
        self.early.drain(..early_count);
        while let Some(event) = context.next_event() {
            start = self.hear::<P, C>(start, frames, &event, api, context);
        }
        self.piece::<P, C>(start, frames, context);
        self.song.advance(frames);
        if self.engine.articulation() != self.articulation {
            self.articulation = self.engine.articulation();
            self.tray.choose(self.opening, self.articulation);
        }
        self.show(frames);
        self.status()
    }

    /// Newest settings and slots. Nothing is freed here: what was played goes back on the tray,
    /// and until it is taken from there no newer settings are taken either.
    fn take_settings(&mut self, controls: &Parameters) {
        if let Some(spent) = self.spent.take() {
            self.spent = self.tray.give_back(spent);
        }
        let mut is_other = false;
        if self.spent.is_none()
            && let Some(bank) = self.tray.take()
        {
            if let Some(Opening { number, articulation }) = bank.opening {
                self.engine.restore_articulation(articulation);
                (self.opening, self.articulation) = (number, articulation);
            }
            let played = std::mem::replace(&mut self.bank, bank);
            self.spent = self.tray.give_back(played);
            is_other = true;
        }
        let slot = |value: i32| usize::try_from(value - 1).unwrap_or(0);
        let slots = (slot(controls.instrument.value()), slot(controls.target.value()));
        if !is_other && slots == self.slots {
            return;
        }
        self.slots = slots;
        // An empty slot changes nothing, unless what played is gone.
        let patch = self.bank.patch(slots.0, slots.1);
        let patch = if is_other { patch.or(self.bank.first()) } else { patch };
        if let Some(patch) = patch {
            self.engine.load(patch);
            self.heard.gesture = self.untouched_gesture();
        }
    }

    /// Every control that has moved becomes an event at the first frame.
    fn hear_controls(&mut self, controls: &Parameters) {
        for (knob, value) in controls.knobs() {
            let heard = &mut self.heard.knobs[knob as usize];
            if *heard != Some(value) {
                *heard = Some(value);
                self.control(Input::Parameter(knob, value));
            }
        }
        let gesture = f64::from(controls.gesture.value());
        if self.heard.gesture != Some(gesture) {
            self.heard.gesture = Some(gesture);
            self.control(Input::Gesture(gesture));
        }
        let bypass = controls.bypass.value();
        if bypass != self.heard.is_bypass {
            self.heard.is_bypass = bypass;
            self.control(Input::Bypass(bypass));
        }
        let (resync, panic) = (controls.resync.value(), controls.panic.value());
        if resync && !self.heard.is_resync {
            self.control(Input::Resync);
        }
        if panic && !self.heard.is_panic {
            self.control(Input::Panic);
        }
        (self.heard.is_resync, self.heard.is_panic) = (resync, panic);
    }

    fn control(&mut self, input: Input) {
        self.queue.push(Timed { frame: 0, tag: NO_VOICE, input });
    }

    /// Takes one event of the host. `start` is the first frame that has not been played; the
    /// new one comes back.
    fn hear<P, C>(
        &mut self,
        start: u32,
        frames: u32,
        event: &Event,
        api: PluginApi,
        context: &mut C,
    ) -> u32
    where
        P: Plugin<SysExMessage = Exclusive>,
        C: ProcessContext<P>,
    {
        let frame = event.timing();
        // What the host queued before a control of the same frame comes with the block before
        // it, under that block's length.
        if frame >= frames {
            let mut event = *event;
            event.subtract_timing(frames);
            keep(&mut self.early, event, &mut self.dropped);
            return start;
        }
        let mut start = start;
        match read(event, api, &self.voices) {
            Arrival::Played(message, tag) => {
                self.pen.hear(self.at_s(frame), message);
                if self.queue.len() >= EVENTS_MAX {
                    start = self.early_piece::<P, C>(start, frame.max(start), context);
                }
                let frame = frame.saturating_sub(start);
                self.queue.push(Timed { frame, tag, input: Input::Midi(message) });
            }
            Arrival::Passed => {
                keep(&mut self.passed, renamed(event, api), &mut self.dropped);
            }
            Arrival::Refused => self.dropped += 1,
            Arrival::Ignored => {}
        }
        start
    }

    /// The queue is full: plays all that lies before `end`, and what acts at `end` itself if that
    /// alone fills it. The new start comes back.
    fn early_piece<P, C>(&mut self, start: u32, end: u32, context: &mut C) -> u32
    where
        P: Plugin<SysExMessage = Exclusive>,
        C: ProcessContext<P>,
    {
        let length = end - start;
        let count = self.queue.iter().take_while(|event| event.frame < length).count();
        if length > 0 {
            self.sound::<P, C>(start, length, count, context);
            self.queue.drain(..count);
            for event in &mut self.queue {
                event.frame = event.frame.saturating_sub(length);
            }
        }
        if count == 0 {
            self.sound::<P, C>(end, 0, self.queue.len(), context);
            self.queue.clear();
        }
        end
    }

    /// Plays all that is left of a block.
    fn piece<P, C>(&mut self, start: u32, frames: u32, context: &mut C)
    where
        P: Plugin<SysExMessage = Exclusive>,
        C: ProcessContext<P>,
    {
        let count = self.queue.len();
        self.sound::<P, C>(start, frames - start, count, context);
    }

    /// The engine plays `length` frames from `start` with the first `count` of the queue.
    fn sound<P, C>(&mut self, start: u32, length: u32, count: usize, context: &mut C)
    where
        P: Plugin<SysExMessage = Exclusive>,
        C: ProcessContext<P>,
    {
        let Player { engine, queue, passed, voices, sent, dropped, .. } = self;
        let passed_count = 0;
        let departures = Departures { context, start, voices, passed, passed_count, sent, dropped };
        let mut way = Way::<P, C> { departures, plugin: PhantomData };
        engine.process(length, &queue[..count], &mut way);
        way.departures.pass_before::<P>(start + length);
        let passed_count = way.departures.passed_count;
        passed.drain(..passed_count);
    }

    fn show(&mut self, frames: u32) {
        self.frames += u64::from(frames);
        self.frames_to_show = self.frames_to_show.saturating_sub(frames);
        if self.frames_to_show == 0 {
            self.frames_to_show = (FRAME_S * self.sample_rate_hz) as u32;
            let (view, losses) = (self.engine.view(), self.losses());
            let sent = std::mem::take(&mut self.sent);
            self.pen.show(Frame { at_s: self.at_s(0), view, losses, sent });
        }
    }

    /// Seconds of playing up to a frame of the present block.
    fn at_s(&self, frame: u32) -> f64 {
        (self.frames + u64::from(frame)) as f64 / self.sample_rate_hz
    }

    /// What could not be done, by the engine or on the way to it.
    fn losses(&self) -> Losses {
        let losses = self.engine.losses();
        Losses { dropped_messages: losses.dropped_messages + self.dropped, ..losses }
    }

    /// The host must go on calling while an off is owed, anything moves or the song runs.
    fn status(&self) -> ProcessStatus {
        let is_awake =
            self.engine.owes_offs() || !self.engine.is_settled() || self.song.is_running();
        if is_awake { ProcessStatus::KeepAlive } else { ProcessStatus::Normal }
    }
}

/// Keeps an event where there is room.
fn keep(list: &mut Vec<Event>, event: Event, dropped: &mut u64) {
    if list.len() < list.capacity() {
        list.push(event);
    } else {
        *dropped += 1;
    }
}
