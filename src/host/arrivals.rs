//! What the host says, in the engine's words.

use nice_plug::midi::{Channel, Key, NoteEvent, VoiceID};
use nice_plug::prelude::PluginApi;

use super::exclusive::Exclusive;
use super::voices::{NO_VOICE, Voices, tag};
use crate::engine::Message;
use crate::engine::input::message::{ALL_NOTES_OFF, ALL_SOUND_OFF, FINE_MAX};

/// A host's event, as far as the plugin reads it.
pub type Event = NoteEvent<Exclusive>;

/// What becomes of an event.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Arrival {
    /// The engine plays it, under this tag.
    Played(Message, u32),
    /// The receiver hears it as it is: an expression after its note, a system exclusive message
    /// before what the engine sends at its frame.
    Passed,
    /// It means nothing here.
    Ignored,
}

/// Reads one event.
pub fn read(event: &Event, voices: &Voices) -> Arrival {
    match *event {
        NoteEvent::NoteOn { voice_id, channel, key: Key::Number(key), velocity, .. } => {
            let velocity = seven_bits(velocity).max(1);
            let channel = channel.number().unwrap_or(0);
            Arrival::Played(Message::NoteOn { channel, key, velocity }, tag(voice_id))
        }
        NoteEvent::NoteOff { voice_id, channel, key, velocity, .. } => {
            off(voice_id, channel, key, seven_bits(velocity), ALL_NOTES_OFF, voices)
        }
        NoteEvent::Choke { voice_id, channel, key, .. } => {
            off(voice_id, channel, key, 64, ALL_SOUND_OFF, voices)
        }
        NoteEvent::PolyPressure { voice_id, channel, key: Key::Number(key), pressure, .. } => {
            let channel = channel_of(channel, key, voices);
            let message = Message::PolyPressure { channel, key, value: seven_bits(pressure) };
            Arrival::Played(message, tag(voice_id))
        }
        NoteEvent::MidiChannelPressure { channel, pressure, .. } => {
            played(Message::ChannelPressure { channel, value: seven_bits(pressure) })
        }
        NoteEvent::MidiPitchBend { channel, value, .. } => {
            played(Message::PitchBend { channel, value: raw(value, FINE_MAX) })
        }
        NoteEvent::MidiCC { channel, cc, value, .. } => {
            played(Message::Controller { channel, number: cc & 0x7F, value: seven_bits(value) })
        }
        NoteEvent::MidiProgramChange { channel, program, .. } => {
            played(Message::Program { channel, program: program & 0x7F })
        }
        NoteEvent::PolyVolume { .. }
        | NoteEvent::PolyPan { .. }
        | NoteEvent::PolyTuning { .. }
        | NoteEvent::PolyVibrato { .. }
        | NoteEvent::PolyExpression { .. }
        | NoteEvent::PolyBrightness { .. }
        | NoteEvent::MidiSysEx { .. } => Arrival::Passed,
        _ => Arrival::Ignored,
    }
}

/// The event under its right name: the framework hands VST3's expression over as brightness and
/// its brightness as expression.
pub fn renamed(event: &Event, api: PluginApi) -> Event {
    match *event {
        NoteEvent::PolyExpression { timing, voice_id, channel, key, expression }
            if api == PluginApi::Vst3 =>
        {
            NoteEvent::PolyBrightness { timing, voice_id, channel, key, brightness: expression }
        }
        NoteEvent::PolyBrightness { timing, voice_id, channel, key, brightness }
            if api == PluginApi::Vst3 =>
        {
            NoteEvent::PolyExpression { timing, voice_id, channel, key, expression: brightness }
        }
        event => event,
    }
}

/// An off. One that names no key ends everything, by a channel mode message.
fn off(
    voice_id: VoiceID,
    channel: Channel,
    key: Key,
    velocity: u8,
    mode: u8,
    voices: &Voices,
) -> Arrival {
    match key {
        Key::Number(key) => {
            let channel = channel_of(channel, key, voices);
            Arrival::Played(Message::NoteOff { channel, key, velocity }, tag(voice_id))
        }
        Key::Wildcard => {
            let channel = channel.number().unwrap_or(0);
            played(Message::Controller { channel, number: mode, value: 0 })
        }
    }
}

fn played(message: Message) -> Arrival {
    Arrival::Played(message, NO_VOICE)
}

/// A channel, or where the key sounds if any channel is meant.
fn channel_of(channel: Channel, key: u8, voices: &Voices) -> u8 {
    channel.number().or_else(|| voices.channel_of(key)).unwrap_or(0)
}

fn seven_bits(share: f32) -> u8 {
    raw(share, 127) as u8
}

/// A share of a whole range as the number that made it.
fn raw(share: f32, max: u16) -> u16 {
    (share.clamp(0.0, 1.0) * f32::from(max)).round() as u16
}
