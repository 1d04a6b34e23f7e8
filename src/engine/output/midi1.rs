//! The encoder for MIDI 1.0: which messages carry a number to an address.

use super::sender::Sender;
use super::sink::{Origin, Sink};
use crate::input::message::{FINE_CONTROLLER_OFFSET, FINE_MAX};
use crate::input::{Channel, Key, Message};
use crate::layer::Layer;
use crate::patch::Address;

/// MIDI 1.0: registered parameter numbers, coarse and fine; non-registered ones.
const REGISTERED: (u8, u8) = (101, 100);
const NON_REGISTERED: (u8, u8) = (99, 98);
/// MIDI 1.0: data entry, coarse and fine.
const DATA_ENTRY: (u8, u8) = (6, 38);
/// MIDI 1.0: the parameter number that means none.
const NULL_PARAMETER: u16 = FINE_MAX;
/// MIDI 1.0: registered parameter 0 is the bend range, semitones and cents.
const BEND_RANGE_PARAMETER: u16 = 0;

/// Who is spoken to: the line's channel, and the key that sounds on it.
#[derive(Clone, Copy)]
pub struct Listener {
    /// The line's channel.
    pub channel: Channel,
    /// Its key, if a note sounds.
    pub key: Option<Key>,
}

/// Tells the receiver how far its bend wheel goes.
pub fn send_bend_range(semitones: f64, channel: Channel, sender: &mut Sender<'_, impl Sink>) {
    // Hundredths of a semitone are the fine half (MIDI 1.0, RPN 0).
    let hundredths = libm::round(semitones * 100.0) as u16;
    let data = ((hundredths / 100) << 7) | (hundredths % 100);
    send_parameter(REGISTERED, (BEND_RANGE_PARAMETER, data), Layer::Pitch, channel, sender);
}

/// A message that the address answers to.
pub fn listens(address: Address, message: Message) -> bool {
    match (address, message) {
        (Address::Controller(own), Message::Controller { number, .. }) => own == number,
        (Address::ControllerPair(own), Message::Controller { number, .. }) => {
            number == own || number == own + FINE_CONTROLLER_OFFSET
        }
        (Address::ChannelPressure, Message::ChannelPressure { .. }) => true,
        (Address::PolyPressure, Message::PolyPressure { .. }) => true,
        (Address::PitchBend, Message::PitchBend { .. }) => true,
        (Address::Program, Message::Program { .. }) => true,
        _ => false,
    }
}

/// Sends a raw number to an address; `sent` is what it has.
pub fn send(
    layer: Layer,
    address: Address,
    raw: u16,
    sent: Option<u16>,
    listener: Listener,
    sender: &mut Sender<'_, impl Sink>,
) {
    let Listener { channel, key } = listener;
    let origin = Origin::Layer(layer);
    let low = (raw & 0x7F) as u8;
    match address {
        Address::Controller(number) => sender.controller(channel, number, low, layer),
        Address::ControllerPair(number) => {
            // A new coarse value zeroes the fine one (MIDI 1.0), so the fine one always follows.
            if sent.is_none_or(|sent| sent >> 7 != raw >> 7) {
                sender.controller(channel, number, (raw >> 7) as u8, layer);
            }
            sender.controller(channel, number + FINE_CONTROLLER_OFFSET, low, layer);
        }
        Address::ChannelPressure => {
            sender.send(Message::ChannelPressure { channel: channel.number(), value: low }, origin);
        }
        Address::PolyPressure => {
            if let Some(key) = key {
                sender.send(
                    Message::PolyPressure {
                        channel: channel.number(),
                        key: key.number(),
                        value: low,
                    },
                    origin,
                );
            }
        }
        Address::PitchBend => {
            sender.send(Message::PitchBend { channel: channel.number(), value: raw }, origin)
        }
        Address::Registered(number) => {
            send_parameter(REGISTERED, (number, raw), layer, channel, sender);
        }
        Address::NonRegistered(number) => {
            send_parameter(NON_REGISTERED, (number, raw), layer, channel, sender);
        }
        Address::Program => {
            sender.send(Message::Program { channel: channel.number(), program: low }, origin)
        }
        Address::Velocity => {}
    }
}

/// A parameter number, its value, and the null that keeps stray data from it.
fn send_parameter(
    numbers: (u8, u8),
    (parameter, value): (u16, u16),
    layer: Layer,
    channel: Channel,
    sender: &mut Sender<'_, impl Sink>,
) {
    let halves = |value: u16| ((value >> 7) as u8, (value & 0x7F) as u8);
    let (coarse, fine) = halves(parameter);
    let (data_coarse, data_fine) = halves(value);
    let (null_coarse, null_fine) = halves(NULL_PARAMETER);
    let messages = [
        (numbers.0, coarse),
        (numbers.1, fine),
        (DATA_ENTRY.0, data_coarse),
        (DATA_ENTRY.1, data_fine),
        (REGISTERED.0, null_coarse),
        (REGISTERED.1, null_fine),
    ];
    for (number, value) in messages {
        sender.controller(channel, number, value, layer);
    }
}
