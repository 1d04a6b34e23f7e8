//! How an address is written in a file: "cc 11", "cc pair 1", "channel pressure", "pitch bend", "rpn 5".

use crate::engine::input::message::FINE_CONTROLLER_OFFSET;
use crate::engine::patch::{Address, Source};

/// What an output's address may be, for the sentence of a fault.
pub const ADDRESS_RULE: &str = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \
    \"channel pressure\", \"poly pressure\", \"pitch bend\", \"rpn 0\" to \"rpn 16382\", \
    \"nrpn 0\" to \"nrpn 16382\", \"program\" or \"velocity\"";
/// What a hand's source may be, for the sentence of a fault.
pub const SOURCE_RULE: &str = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \
    \"channel pressure\", \"poly pressure\", \"pitch bend\", \"parameter\", \"mpe timbre\" or \
    \"mpe pressure\"";

/// What people call a source, beside the form of the files.
pub const SPOKEN_RULE: &str = "a number 0 to 119, wheel, breath, foot, volume, expression, \
    pressure, aftertouch, poly aftertouch or bend";

/// The highest number of a controller; above it MIDI 1.0 has channel mode messages.
const CONTROLLER_MAX: u16 = 119;
/// The highest parameter number; one higher is the null of MIDI 1.0, which is no parameter.
const PARAMETER_MAX: u16 = 16_382;
/// MIDI 1.0: data entry, its fine half, data up and down, and the parameter numbers. They belong
/// to "rpn" and "nrpn".
const PARAMETER_CONTROLLERS: [u16; 8] = [6, 38, 96, 97, 98, 99, 100, 101];

/// Reads an output's address; spaces do not matter ("cc11" is "cc 11").
pub fn address(text: &str) -> Option<Address> {
    let text = squeezed(text);
    if let Some(number) = numbered(&text, "ccpair", u16::from(FINE_CONTROLLER_OFFSET) - 1) {
        return free(number).map(Address::ControllerPair);
    }
    if let Some(number) = numbered(&text, "cc", CONTROLLER_MAX) {
        return free(number).map(Address::Controller);
    }
    if let Some(number) = numbered(&text, "nrpn", PARAMETER_MAX) {
        return Some(Address::NonRegistered(number));
    }
    if let Some(number) = numbered(&text, "rpn", PARAMETER_MAX) {
        return Some(Address::Registered(number));
    }
    Some(match text.as_str() {
        "channelpressure" => Address::ChannelPressure,
        "polypressure" => Address::PolyPressure,
        "pitchbend" => Address::PitchBend,
        "program" => Address::Program,
        "velocity" => Address::Velocity,
        _ => return None,
    })
}

/// Writes an output's address.
pub fn address_text(address: Address) -> String {
    match address {
        Address::Controller(number) => format!("cc {number}"),
        Address::ControllerPair(number) => format!("cc pair {number}"),
        Address::Registered(number) => format!("rpn {number}"),
        Address::NonRegistered(number) => format!("nrpn {number}"),
        Address::ChannelPressure => "channel pressure".to_owned(),
        Address::PolyPressure => "poly pressure".to_owned(),
        Address::PitchBend => "pitch bend".to_owned(),
        Address::Program => "program".to_owned(),
        Address::Velocity => "velocity".to_owned(),
    }
}

/// Reads a hand's source; spaces do not matter ("cc1" is "cc 1").
pub fn source(text: &str) -> Option<Source> {
    let text = squeezed(text);
    if let Some(number) = numbered(&text, "ccpair", u16::from(FINE_CONTROLLER_OFFSET) - 1) {
        return Some(Source::ControllerPair(number as u8));
    }
    if let Some(number) = numbered(&text, "cc", CONTROLLER_MAX) {
        return Some(Source::Controller(number as u8));
    }
    Some(match text.as_str() {
        "channelpressure" => Source::ChannelPressure,
        "polypressure" => Source::PolyPressure,
        "pitchbend" => Source::PitchBend,
        "parameter" => Source::Parameter,
        "mpetimbre" => Source::MpeTimbre,
        "mpepressure" => Source::MpePressure,
        _ => return None,
    })
}

/// Reads a source as people say it: in the form of the files, with letters of any size, by the
/// controller's number alone, or by the name that MIDI 1.0 gives it.
pub fn spoken_source(text: &str) -> Option<Source> {
    let text: String = text.chars().filter(|each| !each.is_whitespace()).collect();
    let text = text.to_lowercase();
    if let Some(number) = numbered(&text, "", CONTROLLER_MAX) {
        return Some(Source::Controller(number as u8));
    }
    Some(match text.as_str() {
        "wheel" | "modwheel" | "modulation" => Source::Controller(1),
        "breath" => Source::Controller(2),
        "foot" => Source::Controller(4),
        "volume" => Source::Controller(7),
        "expression" => Source::Controller(11),
        "pressure" | "aftertouch" | "channelaftertouch" => Source::ChannelPressure,
        "polyaftertouch" => Source::PolyPressure,
        "bend" => Source::PitchBend,
        other => return source(other),
    })
}

/// Writes a hand's source.
pub fn source_text(source: Source) -> String {
    match source {
        Source::Controller(number) => format!("cc {number}"),
        Source::ControllerPair(number) => format!("cc pair {number}"),
        Source::ChannelPressure => "channel pressure".to_owned(),
        Source::PolyPressure => "poly pressure".to_owned(),
        Source::PitchBend => "pitch bend".to_owned(),
        Source::Parameter => "parameter".to_owned(),
        Source::MpeTimbre => "mpe timbre".to_owned(),
        Source::MpePressure => "mpe pressure".to_owned(),
    }
}

/// Writes a source as one types it after `--source`.
pub fn source_option(source: Source) -> String {
    match source {
        Source::ChannelPressure => "pressure".to_owned(),
        source => source_text(source).replace(' ', ""),
    }
}

/// One kind of message as the receiver gets it. Two outputs that use one would overwrite each
/// other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stream {
    Controller(u8),
    Other(Address),
}

/// The streams that an address uses.
pub(super) fn streams(address: Address) -> Vec<Stream> {
    match address {
        Address::Controller(number) => vec![Stream::Controller(number)],
        Address::ControllerPair(number) => {
            vec![Stream::Controller(number), Stream::Controller(number + FINE_CONTROLLER_OFFSET)]
        }
        other => vec![Stream::Other(other)],
    }
}

/// The streams that a source reads.
pub(super) fn source_streams(source: Source) -> Vec<Stream> {
    match source {
        Source::Controller(number) => streams(Address::Controller(number)),
        Source::ControllerPair(number) => streams(Address::ControllerPair(number)),
        Source::ChannelPressure | Source::MpePressure => streams(Address::ChannelPressure),
        Source::PolyPressure => streams(Address::PolyPressure),
        Source::PitchBend => streams(Address::PitchBend),
        Source::MpeTimbre => streams(Address::Controller(74)),
        Source::Parameter => Vec::new(),
    }
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|each| *each != ' ').collect()
}

fn numbered(text: &str, word: &str, most: u16) -> Option<u16> {
    let digits = text.strip_prefix(word)?;
    let is_plain = !digits.is_empty() && digits.bytes().all(|each| each.is_ascii_digit());
    digits.parse().ok().filter(|number| is_plain && *number <= most)
}

fn free(number: u16) -> Option<u8> {
    (!PARAMETER_CONTROLLERS.contains(&number)).then_some(number as u8)
}
