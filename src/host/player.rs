//! One line, played live: blocks of the host become the engine's time, and back.

use std::marker::PhantomData;
use std::ops::RangeInclusive;
use std::sync::Arc;

use nice_plug::prelude::{Plugin, PluginApi, ProcessContext, ProcessStatus, Transport};

use super::control_changes::ControlChanges;
use super::events_in::{HostEvent, Incoming, read, renamed};
use super::events_out::{HostOutput, HostSink};
use super::hand_off::{HandOff, Playing};
use super::live_values::{FRAME_S, LiveFrame, LiveWriter};
use super::parameters::Parameters;
use super::performed::{PerformanceWriter, RunningSong};
use super::slot_patches::{OpenedProject, SlotPatches};
use super::system_exclusive::SystemExclusive;
use super::transport::TransportFollower;
use super::voices::{NO_VOICE, Voices};
use crate::engine::patch::{Patch, Source};
use crate::engine::{Input, Timed};
use crate::engine::{Losses, Section};

/// Events that are held at once; a block with more is played in pieces.
const EVENTS_MAX: usize = 1024;
/// What the engine can play at; at 0 its first tick would never come to an end.
const SAMPLE_RATES_HZ: RangeInclusive<f64> = 8_000.0..=768_000.0;
/// Inputs of the host's own that one block can begin with: the song and the controls.
const CONTROLS_MAX: usize = 1 + ControlChanges::COUNT_MAX;
/// Wishes of a window that one block can begin with; more wait for the next.
const WISHES_MAX: usize = 64;

/// Plays the patches of a project's slots through one engine. Audio thread, but for what says
/// otherwise.
pub struct Player {
    engine: Section,
    playing: Playing<SlotPatches>,
    hand_off: Arc<HandOff<SlotPatches>>,
    /// The slots of instrument and target that play, counted from 0.
    slots: (usize, usize),
    /// What is played just now is read by this computer's hand.
    is_live: bool,
    /// What arrives is being recorded, for the first time on this track; and some of it was.
    is_recording: bool,
    has_recorded: bool,
    /// Which project of the host's it is, and the articulation as last said to it.
    opening: u64,
    articulation: Option<u8>,
    /// The place of the song from which silences may begin, as last said to it.
    niente_from: Option<i32>,
    control_changes: ControlChanges,
    transport: TransportFollower,
    voices: Voices,
    queue: Vec<Timed>,
    passed: Vec<HostEvent>,
    /// Events that the host queued for the first frames of the next block.
    early: Vec<HostEvent>,
    live_writer: LiveWriter,
    performance: Option<PerformanceWriter>,
    sample_rate_hz: f64,
    frames: u64,
    frames_to_show: u32,
    /// Messages that have gone out since a frame was shown.
    sent: u32,
    dropped: u64,
}

impl Player {
    /// Off the audio thread. A player of what was posted; `None` if nothing of it can be played.
    pub fn prepare(
        hand_off: Arc<HandOff<SlotPatches>>,
        live_writer: LiveWriter,
        performance: Option<PerformanceWriter>,
    ) -> Option<Player> {
        const SAMPLE_RATE_HZ: f64 = 48_000.0;
        let patches = hand_off.take()?;
        let engine = Section::prepare(SAMPLE_RATE_HZ, patches.first()?);
        let mut player = Player {
            engine,
            playing: Playing::new(patches),
            hand_off,
            slots: (0, 0),
            is_live: false,
            is_recording: false,
            has_recorded: false,
            opening: 0,
            articulation: None,
            niente_from: None,
            control_changes: ControlChanges::NONE,
            transport: TransportFollower::default(),
            voices: Voices::SILENT,
            queue: Vec::with_capacity(EVENTS_MAX + CONTROLS_MAX + WISHES_MAX),
            passed: Vec::with_capacity(EVENTS_MAX),
            early: Vec::with_capacity(EVENTS_MAX),
            live_writer,
            performance,
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
        self.transport.forget();
        self.early.clear();
        self.control_changes.set_gesture(self.untouched_gesture());
    }

    /// A source that is only automation is known from the start.
    fn untouched_gesture(&self) -> Option<f64> {
        let patch = self.patch().or(self.playing.settings.first());
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
        P: Plugin<SysExMessage = SystemExclusive>,
        C: ProcessContext<P>,
    {
        self.take_settings(controls, context.transport());
        self.queue.clear();
        self.passed.clear();
        self.follow_song(context.transport(), controls.stands_aside());
        let Player { control_changes, queue, .. } = self;
        control_changes.tell(controls, |input| queue.push(at_first_frame(input)));
        for _ in 0..WISHES_MAX {
            let Some(wish) = self.live_writer.wish() else { break };
            self.queue.push(at_first_frame(wish));
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
        self.transport.advance(frames);
        if self.engine.articulation() != self.articulation {
            self.articulation = self.engine.articulation();
            self.hand_off.choose(self.opening, self.articulation);
        }
        if self.engine.niente_from() != self.niente_from {
            self.niente_from = self.engine.niente_from();
            self.hand_off.open_niente(self.opening, self.niente_from);
        }
        self.show(frames);
        self.status()
    }

    /// Where the song is, for the engine and for what is kept of the performance.
    fn follow_song(&mut self, transport: &Transport, is_aside: bool) {
        let reached = self.transport.reached(self.sample_rate_hz);
        let song = self.transport.hear(transport, self.sample_rate_hz);
        self.queue.extend(song.map(at_first_frame));
        if let Some(performance) = &mut self.performance {
            let has_jumped = matches!(song, Some(Input::Locate { .. }));
            let running = self.transport.running_at();
            let running = running.map(|at| RunningSong::of(transport, at, self.sample_rate_hz));
            performance.begin(running, reached, has_jumped, is_aside);
        }
    }

    /// The patch of the slots that play, under the hand that reads now.
    fn patch(&self) -> Option<&Patch> {
        self.playing.settings.present(self.slots, self.is_live)
    }

    /// Whether this computer's hand reads what arrives. A host does not say what of it a hand plays:
    /// while the song stands it is the hand; while it records, too, unless the lane on the track was
    /// recorded before.
    fn follow_hand(&mut self, transport: &Transport) -> bool {
        let settings = &self.playing.settings;
        let has_live_hand = settings.has_live_hand();
        self.is_recording =
            transport.playing && transport.recording && !settings.is_recorded && !self.has_recorded;
        has_live_hand && (!transport.playing || self.is_recording || self.has_recorded)
    }

    /// Newest settings and slots, and the hand.
    fn take_settings(&mut self, controls: &Parameters, transport: &Transport) {
        let is_other = self.playing.take_newest(&self.hand_off);
        if is_other {
            self.has_recorded = false;
        }
        if is_other && let Some(opened) = self.playing.settings.opening {
            let OpenedProject { number, articulation, niente_from } = opened;
            self.engine.restore_articulation(articulation);
            self.engine.restore_niente(niente_from);
            (self.opening, self.articulation, self.niente_from) =
                (number, articulation, niente_from);
        }
        let slot = |value: i32| usize::try_from(value - 1).unwrap_or(0);
        let slots = (slot(controls.instrument.value()), slot(controls.target.value()));
        let is_live = self.follow_hand(transport);
        if !is_other && slots == self.slots && is_live == self.is_live {
            return;
        }
        (self.slots, self.is_live) = (slots, is_live);
        // An empty slot changes nothing, unless what played is gone.
        let first = self.playing.settings.first().filter(|_| is_other);
        let patch = self.playing.settings.present(slots, is_live).or(first);
        if let Some(patch) = patch {
            self.engine.load(patch);
            self.control_changes.set_gesture(self.untouched_gesture());
        }
    }

    /// Takes one event of the host. `start` is the first frame that has not been played; the
    /// new one comes back.
    fn hear<P, C>(
        &mut self,
        start: u32,
        frames: u32,
        event: &HostEvent,
        api: PluginApi,
        context: &mut C,
    ) -> u32
    where
        P: Plugin<SysExMessage = SystemExclusive>,
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
            Incoming::Played(message, tag) => {
                self.live_writer.hear(self.at_s(frame), message);
                if self.is_recording && !self.has_recorded {
                    self.has_recorded = true;
                    self.hand_off.record(self.opening);
                }
                if self.queue.len() >= EVENTS_MAX {
                    start = self.early_piece::<P, C>(start, frame.max(start), context);
                }
                let frame = frame.saturating_sub(start);
                self.queue.push(Timed { frame, tag, input: Input::Midi(message) });
            }
            Incoming::Passed => {
                keep(&mut self.passed, renamed(event, api), &mut self.dropped);
            }
            Incoming::Refused => self.dropped += 1,
            Incoming::Ignored => {}
        }
        start
    }

    /// The queue is full: plays all that lies before `end`, and what acts at `end` itself if that
    /// alone fills it. The new start comes back.
    fn early_piece<P, C>(&mut self, start: u32, end: u32, context: &mut C) -> u32
    where
        P: Plugin<SysExMessage = SystemExclusive>,
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
        P: Plugin<SysExMessage = SystemExclusive>,
        C: ProcessContext<P>,
    {
        let count = self.queue.len();
        self.sound::<P, C>(start, frames - start, count, context);
    }

    /// The engine plays `length` frames from `start` with the first `count` of the queue.
    fn sound<P, C>(&mut self, start: u32, length: u32, count: usize, context: &mut C)
    where
        P: Plugin<SysExMessage = SystemExclusive>,
        C: ProcessContext<P>,
    {
        let Player { engine, queue, passed, voices, sent, dropped, performance, .. } = self;
        let (passed_count, performance) = (0, performance.as_mut());
        let output =
            HostOutput { context, start, voices, passed, passed_count, sent, dropped, performance };
        let mut sink = HostSink::<P, C> { output, plugin: PhantomData };
        engine.process(length, &queue[..count], &mut sink);
        sink.output.pass_before::<P>(start + length);
        let passed_count = sink.output.passed_count;
        passed.drain(..passed_count);
    }

    fn show(&mut self, frames: u32) {
        self.frames += u64::from(frames);
        self.frames_to_show = self.frames_to_show.saturating_sub(frames);
        if self.frames_to_show == 0 {
            self.frames_to_show = (FRAME_S * self.sample_rate_hz) as u32;
            let (view, losses) = (self.engine.view(), self.losses());
            let sent = std::mem::take(&mut self.sent);
            self.live_writer.show(LiveFrame { at_s: self.at_s(0), view, losses, sent });
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
            self.engine.owes_offs() || !self.engine.is_settled() || self.transport.is_running();
        if is_awake { ProcessStatus::KeepAlive } else { ProcessStatus::Normal }
    }
}

fn at_first_frame(input: Input) -> Timed {
    Timed { frame: 0, tag: NO_VOICE, input }
}

/// Keeps an event where there is room.
fn keep(list: &mut Vec<HostEvent>, event: HostEvent, dropped: &mut u64) {
    if list.len() < list.capacity() {
        list.push(event);
    } else {
        *dropped += 1;
    }
}
