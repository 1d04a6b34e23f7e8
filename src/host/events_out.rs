//! What the engine sends, in the host's words.

use nice_plug::midi::{Channel as HostChannel, Key as HostKey, NoteEvent};
use nice_plug::prelude::{Plugin, ProcessContext};

use super::events_in::HostEvent;
use super::performed::PerformanceWriter;
use super::system_exclusive::SystemExclusive;
use super::voices::{NO_VOICE, Voices, voice_id};
use crate::engine::input::message::FINE_MAX;
use crate::engine::{Channel, Key};
use crate::engine::{Message, Origin, Sink};

/// The way to the host for a piece of a block. Audio thread.
pub struct HostOutput<'a, C> {
    /// The host.
    pub context: &'a mut C,
    /// First frame of the piece, frames since the start of the block.
    pub start: u32,
    /// Which note sounds where.
    pub voices: &'a mut Voices,
    /// What passes as it is, in order of frames since the start of the block.
    pub passed: &'a mut Vec<HostEvent>,
    /// How many of `passed` have gone out.
    pub passed_count: usize,
    /// Messages that have gone out.
    pub sent: &'a mut u32,
    /// What passed and found no room.
    pub dropped: &'a mut u64,
    /// Where what is performed is kept, if a window can print it.
    pub performance: Option<&'a mut PerformanceWriter>,
}

impl<C> HostOutput<'_, C> {
    /// Sends what passes before what the engine sends at `frame` of the block.
    pub fn pass_before<P>(&mut self, frame: u32)
    where
        P: Plugin<SysExMessage = SystemExclusive>,
        C: ProcessContext<P>,
    {
        let is_next = |it: &&HostEvent| {
            it.timing() < frame || it.timing() == frame && matches!(it, HostEvent::MidiSysEx { .. })
        };
        while let Some(event) = self.passed.get(self.passed_count).filter(is_next) {
            self.passed_count += 1;
            *self.sent += 1;
            if self.context.try_send_event(*event).is_err() {
                *self.dropped += 1;
            }
        }
    }
}

/// A way to the host, for plugins of one kind.
pub struct HostSink<'a, P, C> {
    /// The way.
    pub output: HostOutput<'a, C>,
    /// Which plugin.
    pub plugin: core::marker::PhantomData<P>,
}

impl<P, C> Sink for HostSink<'_, P, C>
where
    P: Plugin<SysExMessage = SystemExclusive>,
    C: ProcessContext<P>,
{
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        let frame = self.output.start + frame;
        self.output.pass_before::<P>(frame);
        let written = written(frame, message, origin, self.output.voices);
        let Some(event) = written else { return false };
        *self.output.sent += 1;
        let is_sent = self.output.context.try_send_event(event).is_ok();
        if let Some(performance) = self.output.performance.as_deref_mut().filter(|_| is_sent) {
            performance.perform(frame, message, origin);
        }
        is_sent
    }
}

/// A message as the host's event; `None` for a key or channel that there is not.
fn written(
    timing: u32,
    message: Message,
    origin: Origin,
    voices: &mut Voices,
) -> Option<HostEvent> {
    let own = match origin {
        Origin::Note(tag) => tag,
        Origin::Passed(_) | Origin::Layer(_) | Origin::Owed => NO_VOICE,
    };
    Some(match message {
        Message::NoteOn { channel, key, velocity } => {
            let (channel, key) = (Channel::new(channel)?, Key::new(key)?);
            voices.begin(channel, key, own);
            let (voice_id, velocity) = (voice_id(own), share(velocity));
            let (channel, key) = named(channel, key);
            NoteEvent::NoteOn { timing, voice_id, channel, key, velocity }
        }
        Message::NoteOff { channel, key, velocity } => {
            let (channel, key) = (Channel::new(channel)?, Key::new(key)?);
            let (voice_id, velocity) = (voice_id(voices.end(channel, key)), share(velocity));
            let (channel, key) = named(channel, key);
            NoteEvent::NoteOff { timing, voice_id, channel, key, velocity }
        }
        Message::PolyPressure { channel, key, value } => {
            let (channel, key) = (Channel::new(channel)?, Key::new(key)?);
            let (voice_id, pressure) = (voice_id(voices.tag(channel, key)), share(value));
            let (channel, key) = named(channel, key);
            NoteEvent::PolyPressure { timing, voice_id, channel, key, pressure }
        }
        Message::Controller { channel, number, value } => {
            NoteEvent::MidiCC { timing, channel, cc: number, value: share(value) }
        }
        Message::Program { channel, program } => {
            NoteEvent::MidiProgramChange { timing, channel, program }
        }
        Message::ChannelPressure { channel, value } => {
            NoteEvent::MidiChannelPressure { timing, channel, pressure: share(value) }
        }
        Message::PitchBend { channel, value } => {
            let value = f32::from(value) / f32::from(FINE_MAX);
            NoteEvent::MidiPitchBend { timing, channel, value }
        }
    })
}

fn named(channel: Channel, key: Key) -> (HostChannel, HostKey) {
    (HostChannel::Number(channel.number()), HostKey::Number(key.number()))
}

fn share(value: u8) -> f32 {
    f32::from(value) / 127.0
}
