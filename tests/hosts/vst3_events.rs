//! What is said to a VST3 plugin and what it says, as VST3's events.
#![allow(unsafe_code, reason = "an event's type says which of its fields holds")]
#![allow(clippy::unnecessary_cast, reason = "the type of VST3's numbers differs between systems")]

use polso::engine::Message;
use vst3::Steinberg::Vst::{
    DataEvent, Event,
    Event_::{EventTypes, EventTypes_},
    Event__type0, NoteExpressionValueEvent, NoteOffEvent, NoteOnEvent,
};

use super::room::{Bytes, Edge, Said, Shade};

/// The number of channel pressure, bend and program behind the controllers, as VST3 has it.
pub const PRESSURE: u8 = 128;
pub const BEND: u8 = 129;
const PROGRAM: u8 = 130;

fn note_on(channel: i16, pitch: i16, velocity: f32, number: i32) -> (EventTypes, Event__type0) {
    let note = NoteOnEvent { channel, pitch, tuning: 0.0, velocity, length: 0, noteId: number };
    (EventTypes_::kNoteOnEvent, Event__type0 { noteOn: note })
}

fn note_off(channel: i16, pitch: i16, velocity: f32, number: i32) -> (EventTypes, Event__type0) {
    let note = NoteOffEvent { channel, pitch, velocity, noteId: number, tuning: 0.0 };
    (EventTypes_::kNoteOffEvent, Event__type0 { noteOff: note })
}

/// What is said as an event.
pub fn event(frame: u32, said: Said) -> Event {
    let (kind, data) = match said {
        Said::Message(Message::NoteOn { channel, key, velocity }, number) => {
            note_on(channel.into(), key.into(), f32::from(velocity) / 127.0, number)
        }
        Said::Note(Edge::Begins, channel, key, number) => note_on(channel, key, 0.7, number),
        Said::Message(Message::NoteOff { channel, key, velocity }, number) => {
            note_off(channel.into(), key.into(), f32::from(velocity) / 127.0, number)
        }
        Said::Note(Edge::Ends, channel, key, number) => note_off(channel, key, 0.5, number),
        Said::Expression(kind, _, number, value) => {
            let type_id = TYPES.iter().position(|it| *it == Some(kind)).expect("a type") as u32;
            let value = NoteExpressionValueEvent { typeId: type_id, noteId: number, value };
            (EventTypes_::kNoteExpressionValueEvent, Event__type0 { noteExpressionValue: value })
        }
        other => panic!("VST3 cannot say {other:?}"),
    };
    Event {
        busIndex: 0,
        sampleOffset: frame as i32,
        ppqPosition: 0.0,
        flags: 0,
        r#type: kind as u16,
        __field0: data,
    }
}

/// VST3's numbers of expressions: volume, pan, tuning, vibrato, expression, brightness.
const TYPES: [Option<Shade>; 6] = [
    None,
    None,
    Some(Shade::Tuning),
    Some(Shade::Vibrato),
    Some(Shade::Expression),
    Some(Shade::Brightness),
];

/// An event of bytes, which the list lends it.
pub fn data(frame: u32) -> Event {
    let data = DataEvent { size: 0, r#type: 0, bytes: std::ptr::null() };
    Event {
        busIndex: 0,
        sampleOffset: frame as i32,
        ppqPosition: 0.0,
        flags: 0,
        r#type: EventTypes_::kDataEvent as u16,
        __field0: Event__type0 { data },
    }
}

/// What an event says.
pub fn heard((event, bytes): &(Event, Option<Bytes>)) -> Option<(u32, Said)> {
    if let Some(bytes) = bytes {
        return Some((event.sampleOffset as u32, Said::Exclusive(*bytes)));
    }
    let seven_bits = |velocity: f32| (velocity * 127.0).round() as u8;
    let kind = u32::from(event.r#type);
    // SAFETY: the type says which of the fields holds.
    let said = unsafe {
        if kind == EventTypes_::kNoteOnEvent as u32 {
            let NoteOnEvent { channel, pitch, velocity, noteId, .. } = event.__field0.noteOn;
            let (channel, key, velocity) = (channel as u8, pitch as u8, seven_bits(velocity));
            Said::Message(Message::NoteOn { channel, key, velocity }, noteId)
        } else if kind == EventTypes_::kNoteOffEvent as u32 {
            let NoteOffEvent { channel, pitch, velocity, noteId, .. } = event.__field0.noteOff;
            let (channel, key, velocity) = (channel as u8, pitch as u8, seven_bits(velocity));
            Said::Message(Message::NoteOff { channel, key, velocity }, noteId)
        } else if kind == EventTypes_::kNoteExpressionValueEvent as u32 {
            let NoteExpressionValueEvent { typeId, noteId, value } =
                event.__field0.noteExpressionValue;
            Said::Expression(TYPES[typeId as usize]?, 0, noteId, value)
        } else if kind == EventTypes_::kLegacyMIDICCOutEvent as u32 {
            let out = event.__field0.midiCCOut;
            let (channel, value) = (out.channel as u8, out.value as u8);
            let message = match out.controlNumber {
                PRESSURE => Message::ChannelPressure { channel, value },
                BEND => {
                    let value = u16::from(out.value2 as u8) << 7 | u16::from(value);
                    Message::PitchBend { channel, value }
                }
                PROGRAM => Message::Program { channel, program: value },
                number => Message::Controller { channel, number, value },
            };
            Said::Message(message, -1)
        } else {
            return None;
        }
    };
    Some((event.sampleOffset as u32, said))
}
