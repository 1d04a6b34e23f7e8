//! Where a message goes on its channel, with the parameters that several controllers spell together.

use std::fmt;

use crate::engine::Message;
use crate::engine::input::message::{
    FINE_CONTROLLER_OFFSET, PORTAMENTO_CONTROL, PORTAMENTO_SWITCH, PORTAMENTO_TIME,
};
use crate::engine::patch::{Address, TargetPatch, TransitionWay};
use crate::offline::destination::Destination;
use crate::offline::shape::report::layer_name;

/// MIDI 1.0: data entry and its fine half, data up and down.
const DATA_ENTRY: u8 = 6;
const DATA_ENTRY_FINE: u8 = 38;
const DATA_STEPS: [u8; 2] = [96, 97];
/// MIDI 1.0: the fine and the coarse half of the number of a parameter that is not registered, and
/// of one that is.
const NON_REGISTERED: [u8; 2] = [98, 99];
const REGISTERED: [u8; 2] = [100, 101];
/// What a portamento is told by.
const PORTAMENTO: [u8; 3] = [PORTAMENTO_TIME, PORTAMENTO_SWITCH, PORTAMENTO_CONTROL];
/// MIDI 1.0: no parameter.
const NULL: u16 = 0x3FFF;

/// Where a message goes on its channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LaneAddress {
    /// As its own status and number say.
    Plain(Destination),
    /// A registered parameter.
    Registered(u16),
    /// A parameter that the maker of a receiver gave its number.
    NonRegistered(u16),
}

impl fmt::Display for LaneAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LaneAddress::Plain(destination) => write!(f, "{destination}"),
            LaneAddress::Registered(number) => write!(f, "rpn {number}"),
            LaneAddress::NonRegistered(number) => write!(f, "nrpn {number}"),
        }
    }
}

/// Names of controllers (MIDI 1.0, General MIDI 2), those that composers meet.
const NAMES: [(u8, &str); 26] = [
    (0, "bank"),
    (1, "modulation"),
    (2, "breath"),
    (4, "foot"),
    (5, "portamento time"),
    (7, "volume"),
    (8, "balance"),
    (10, "pan"),
    (11, "expression"),
    (32, "bank, fine"),
    (64, "sustain"),
    (65, "portamento"),
    (66, "sostenuto"),
    (67, "soft pedal"),
    (68, "legato"),
    (70, "sound variation"),
    (71, "resonance"),
    (72, "release time"),
    (73, "attack time"),
    (74, "brightness"),
    (76, "vibrato rate"),
    (77, "vibrato depth"),
    (78, "vibrato delay"),
    (84, "portamento from"),
    (91, "reverb"),
    (93, "chorus"),
];
/// Registered parameters by number (MIDI 1.0).
const REGISTERED_NAMES: [&str; 3] = ["bend range", "fine tuning", "coarse tuning"];

impl LaneAddress {
    /// What it is called, where that is in common use.
    pub fn name(self) -> Option<&'static str> {
        match self {
            LaneAddress::Plain(Destination::Controller(number)) => {
                NAMES.iter().find(|(own, _)| *own == number).map(|(_, name)| *name)
            }
            LaneAddress::Registered(number) => REGISTERED_NAMES.get(usize::from(number)).copied(),
            _ => None,
        }
    }
}

/// Which parameter the data of a channel is for.
#[derive(Clone, Copy, Debug)]
pub struct ChosenParameter {
    is_registered: bool,
    number: u16,
    data: u16,
}

impl Default for ChosenParameter {
    /// None is chosen yet.
    fn default() -> ChosenParameter {
        ChosenParameter { is_registered: true, number: NULL, data: 0 }
    }
}

impl ChosenParameter {
    /// Where this message goes, and with which value; `None` for a message that only chooses a
    /// parameter, and for keys. Steps up and down have no value of their own, and go with the one
    /// before.
    pub fn follow(&mut self, message: Message) -> Option<(LaneAddress, u16)> {
        let Message::Controller { number, value, .. } = message else {
            let (destination, value) = Destination::of(message);
            let is_key = destination == Destination::Key;
            return (!is_key).then_some((LaneAddress::Plain(destination), value));
        };
        let value = u16::from(value);
        match number {
            _ if NON_REGISTERED.contains(&number) || REGISTERED.contains(&number) => {
                let is_registered = REGISTERED.contains(&number);
                if is_registered != self.is_registered {
                    *self = ChosenParameter { is_registered, ..ChosenParameter::default() };
                }
                let is_fine = [NON_REGISTERED[0], REGISTERED[0]].contains(&number);
                self.number = match is_fine {
                    true => self.number & 0x3F80 | value,
                    false => self.number & 0x7F | value << 7,
                };
                self.data = 0;
                return None;
            }
            _ if self.number == NULL => {}
            DATA_ENTRY => self.data = value << 7,
            DATA_ENTRY_FINE => self.data = self.data & 0x3F80 | value,
            _ if DATA_STEPS.contains(&number) => {}
            _ => return Some((LaneAddress::Plain(Destination::Controller(number)), value)),
        }
        Some(match (self.number, self.is_registered) {
            (NULL, _) => (LaneAddress::Plain(Destination::Controller(number)), value),
            (number, true) => (LaneAddress::Registered(number), self.data),
            (number, false) => (LaneAddress::NonRegistered(number), self.data),
        })
    }
}

/// What a target sends to this address, as its file calls it; `None` if it sends nothing there.
pub fn layer_at(address: LaneAddress, target: &TargetPatch) -> Option<String> {
    let is_here = |to: Address| match (to, address) {
        (Address::Controller(own), LaneAddress::Plain(Destination::Controller(number))) => {
            own == number
        }
        (Address::ControllerPair(own), LaneAddress::Plain(Destination::Controller(number))) => {
            number == own || number == own + FINE_CONTROLLER_OFFSET
        }
        (Address::Registered(own), LaneAddress::Registered(number))
        | (Address::NonRegistered(own), LaneAddress::NonRegistered(number)) => own == number,
        (Address::ChannelPressure, LaneAddress::Plain(Destination::ChannelPressure))
        | (Address::PolyPressure, LaneAddress::Plain(Destination::PolyPressure))
        | (Address::PitchBend, LaneAddress::Plain(Destination::PitchBend))
        | (Address::Program, LaneAddress::Plain(Destination::Program)) => true,
        _ => false,
    };
    let output = target.outputs().iter().find(|output| is_here(output.address));
    let joins = target.transition.way == TransitionWay::Portamento;
    output.map(|output| layer_name(output.layer, &[])).or_else(|| match address {
        LaneAddress::Plain(Destination::Controller(number))
            if joins && PORTAMENTO.contains(&number) =>
        {
            Some("slide".to_owned())
        }
        _ => None,
    })
}
