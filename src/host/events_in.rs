//! What the host says, in the engine's words.

use nice_plug::midi::{Channel as HostChannel, Key as HostKey, NoteEvent, VoiceID};
use nice_plug::prelude::PluginApi;

use super::system_exclusive::SystemExclusive;
use super::voices::{NO_VOICE, Voices, tag};
use crate::engine::Message;
use crate::engine::input::message::{ALL_NOTES_OFF, ALL_SOUND_OFF, FINE_MAX};
use crate::engine::{Channel, Key};

/// A host's event, as far as the plugin reads it.
pub type HostEvent = NoteEvent<SystemExclusive>;

/// The highest seven-bit value (MIDI 1.0).
const SEVEN_BITS_MAX: u8 = 127;

/// What becomes of an event.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Incoming {
    /// The engine plays it, under this tag.
    Played(Message, u32),
    /// The receiver hears it as it is: an expression after its note, a system exclusive message
    /// before what the engine sends at its frame.
    Passed,
    /// It is no MIDI: CLAP hands raw bytes over as they are, so a key may be 200. Counted.
    Refused,
    /// It means nothing here.
    Ignored,
}

/// Audio thread. Reads one event.
pub fn read(event: &HostEvent, api: PluginApi, voices: &Voices) -> Incoming {
    let read = match *event {
        NoteEvent::NoteOn { voice_id, channel, key, velocity, .. } => {
            on(voice_id, channel, key, velocity)
        }
        NoteEvent::NoteOff { voice_id, channel, key, velocity, .. } => {
            // A note that is not ended for its velocity's sake would sound for ever.
            let velocity = seven_bits(velocity.clamp(0.0, 1.0)).unwrap_or(0);
            off(Off { voice_id, channel, key, velocity, mode: ALL_NOTES_OFF }, api, voices)
        }
        NoteEvent::Choke { voice_id, channel, key, .. } => {
            off(Off { voice_id, channel, key, velocity: 64, mode: ALL_SOUND_OFF }, api, voices)
        }
        NoteEvent::PolyPressure { voice_id, channel, key, pressure, .. } => {
            poly_pressure(voice_id, channel, key, pressure, voices)
        }
        NoteEvent::MidiChannelPressure { channel, pressure, .. } => {
            on_channel(channel, |channel| {
                Some(Message::ChannelPressure { channel, value: seven_bits(pressure)? })
            })
        }
        NoteEvent::MidiPitchBend { channel, value, .. } => on_channel(channel, |channel| {
            Some(Message::PitchBend { channel, value: raw(value, FINE_MAX)? })
        }),
        NoteEvent::MidiCC { channel, cc, value, .. } => on_channel(channel, |channel| {
            let number = Some(cc).filter(|number| *number <= SEVEN_BITS_MAX)?;
            Some(Message::Controller { channel, number, value: seven_bits(value)? })
        }),
        NoteEvent::MidiProgramChange { channel, program, .. } => on_channel(channel, |channel| {
            let program = Some(program).filter(|program| *program <= SEVEN_BITS_MAX)?;
            Some(Message::Program { channel, program })
        }),
        NoteEvent::PolyVolume { channel, key, .. }
        | NoteEvent::PolyPan { channel, key, .. }
        | NoteEvent::PolyTuning { channel, key, .. }
        | NoteEvent::PolyVibrato { channel, key, .. }
        | NoteEvent::PolyExpression { channel, key, .. }
        | NoteEvent::PolyBrightness { channel, key, .. } => expression(channel, key),
        NoteEvent::MidiSysEx { .. } => Some(Incoming::Passed),
        _ => Some(Incoming::Ignored),
    };
    read.unwrap_or(Incoming::Refused)
}

/// Audio thread. The event under its right name: the framework hands VST3's expression over as brightness and
/// its brightness as expression.
pub fn renamed(event: &HostEvent, api: PluginApi) -> HostEvent {
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

/// A note begins. One on every key at once is none.
fn on(voice_id: VoiceID, channel: HostChannel, key: HostKey, velocity: f32) -> Option<Incoming> {
    let key = Key::new(key.number()?)?;
    let channel = named(channel)?.unwrap_or(Channel::FIRST);
    let velocity = seven_bits(velocity)?.max(1);
    let (channel, key) = (channel.number(), key.number());
    Some(Incoming::Played(Message::NoteOn { channel, key, velocity }, tag(voice_id)))
}

/// An off as the host says it, and the channel mode message in its stead if it names no key.
struct Off {
    voice_id: VoiceID,
    channel: HostChannel,
    key: HostKey,
    velocity: u8,
    mode: u8,
}

/// An off. One that names no key ends everything; VST3 knows none, only keys that are wrong.
fn off(off: Off, api: PluginApi, voices: &Voices) -> Option<Incoming> {
    let Off { voice_id, channel, key, velocity, mode } = off;
    match key {
        HostKey::Number(key) => {
            let key = Key::new(key)?;
            let (channel, key) = (where_it_sounds(channel, key, voices)?.number(), key.number());
            Some(Incoming::Played(Message::NoteOff { channel, key, velocity }, tag(voice_id)))
        }
        HostKey::Wildcard if api == PluginApi::Vst3 => None,
        HostKey::Wildcard => {
            let channel = named(channel)?.unwrap_or(Channel::FIRST).number();
            Some(played(Message::Controller { channel, number: mode, value: 0 }))
        }
    }
}

fn poly_pressure(
    voice_id: VoiceID,
    channel: HostChannel,
    key: HostKey,
    pressure: f32,
    voices: &Voices,
) -> Option<Incoming> {
    let HostKey::Number(key) = key else { return Some(Incoming::Ignored) };
    let key = Key::new(key)?;
    let (channel, key) = (where_it_sounds(channel, key, voices)?.number(), key.number());
    let message = Message::PolyPressure { channel, key, value: seven_bits(pressure)? };
    Some(Incoming::Played(message, tag(voice_id)))
}

/// An expression passes if its note is one that can be; VST3 remembers the keys of wrong ones.
fn expression(channel: HostChannel, key: HostKey) -> Option<Incoming> {
    named(channel)?;
    if let HostKey::Number(key) = key {
        Key::new(key)?;
    }
    Some(Incoming::Passed)
}

fn on_channel(channel: u8, message: impl FnOnce(u8) -> Option<Message>) -> Option<Incoming> {
    message(Channel::new(channel)?.number()).map(played)
}

fn played(message: Message) -> Incoming {
    Incoming::Played(message, NO_VOICE)
}

/// The channel that the host names: `Some(None)` if it means any, `None` if there is none such.
fn named(channel: HostChannel) -> Option<Option<Channel>> {
    match channel {
        HostChannel::Wildcard => Some(None),
        HostChannel::Number(number) => Channel::new(number).map(Some),
    }
}

/// A channel, or where the key sounds if any channel is meant.
fn where_it_sounds(channel: HostChannel, key: Key, voices: &Voices) -> Option<Channel> {
    let named = named(channel)?;
    Some(named.or_else(|| voices.channel_of(key)).unwrap_or(Channel::FIRST))
}

fn seven_bits(share: f32) -> Option<u8> {
    raw(share, u16::from(SEVEN_BITS_MAX)).map(|value| value as u8)
}

/// A share of a whole range as the number that made it; `None` if none did.
fn raw(share: f32, max: u16) -> Option<u16> {
    let value = (share * f32::from(max)).round();
    (0.0..=f32::from(max)).contains(&value).then_some(value as u16)
}
