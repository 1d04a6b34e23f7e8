//! Some bars only: inside them the performance, outside them the take, and a clean seam between.

use std::collections::{HashMap, HashSet};

use super::seam::Seam;
use crate::engine::input::message::{BEND_CENTRE, LEGATO_SWITCH, PORTAMENTO_SWITCH};
use crate::engine::patch::{Address, ArticulationPatch, OutputPatch, TargetPatch};
use crate::engine::{Layer, Message, Origin};
use crate::offline::destination::Destination;
use crate::offline::perform::{Fed, SentMessage};
use crate::offline::take::Region;

/// The part of a performance that lies inside the region, closed at its last tick: owed offs,
/// keyswitches, bend, levels and controllers. `elsewhere` is what the take sends to the receiver in
/// tracks that the line does not hear.
pub fn confine(
    sent: Vec<SentMessage>,
    fed: &[Fed],
    elsewhere: &[Fed],
    region: Region,
    target: &TargetPatch,
) -> Vec<SentMessage> {
    if region == Region::ALL {
        return sent;
    }
    let last_tick = region.end.saturating_sub(1).max(region.start);
    let seam = Seam::of(&sent, fed, region);
    let mut inside: Vec<SentMessage> = seam.first;
    let mut switches: Vec<(u8, u8, Origin)> = Vec::new();
    for (place, sent) in sent.into_iter().enumerate() {
        let is_inside = region.holds(sent.tick);
        match (sent.origin, sent.message) {
            (Origin::Note(_), Message::NoteOn { .. } | Message::NoteOff { .. })
                if seam.dropped.contains(&place) => {}
            (Origin::Layer(_), Message::NoteOn { channel, key, .. }) if is_inside => {
                switches.push((channel, key, sent.origin));
                inside.push(sent);
            }
            (Origin::Layer(_), Message::NoteOff { channel, key, .. }) => {
                let open = switches.iter().position(|open| (open.0, open.1) == (channel, key));
                if let Some(place) = open.filter(|_| is_inside) {
                    switches.swap_remove(place);
                    inside.push(sent);
                }
            }
            _ if is_inside => inside.push(sent),
            _ => {}
        }
    }
    if region.end != u64::MAX {
        let values = closing_values(&inside, &[fed, elsewhere].concat(), region, target);
        inside.extend(seam.last.into_iter().map(|sent| SentMessage { tick: last_tick, ..sent }));
        inside.extend(switches.into_iter().map(|(channel, key, origin)| SentMessage {
            tick: last_tick,
            message: Message::NoteOff { channel, key, velocity: 64 },
            origin,
        }));
        let usual = usual_again(&inside, &target.articulation);
        inside.extend(usual.into_iter().map(|sent| SentMessage { tick: last_tick, ..sent }));
        inside.extend(values.into_iter().map(|sent| SentMessage { tick: last_tick, ..sent }));
    }
    inside
}

/// The usual articulation, if the last that the receiver was told is another.
fn usual_again(inside: &[SentMessage], patch: &ArticulationPatch) -> Vec<SentMessage> {
    let is_told = |sent: &&SentMessage| {
        sent.origin == Origin::Layer(Layer::Articulation)
            && !matches!(sent.message, Message::NoteOff { .. })
    };
    let Some(&last) = inside.iter().rev().find(is_told) else { return Vec::new() };
    let Some(value) = patch.choice.value(usize::from(patch.usual)) else { return Vec::new() };
    let off = Message::NoteOff { channel: last.message.channel(), key: value, velocity: 64 };
    let (told, ends) = match last.message {
        Message::NoteOn { channel, velocity, .. } => {
            (Message::NoteOn { channel, key: value, velocity }, Some(off))
        }
        Message::Program { channel, .. } => (Message::Program { channel, program: value }, None),
        Message::Controller { channel, number, .. } => {
            (Message::Controller { channel, number, value }, None)
        }
        _ => return Vec::new(),
    };
    if told == last.message {
        return Vec::new();
    }
    [Some(told), ends]
        .into_iter()
        .flatten()
        .map(|message| SentMessage { message, ..last })
        .collect()
}

/// The values that leave the receiver as the take expects it after the region: what the take
/// itself sent last; else levels full, bend centred, the rest at rest.
fn closing_values(
    inside: &[SentMessage],
    fed: &[Fed],
    region: Region,
    target: &TargetPatch,
) -> Vec<SentMessage> {
    let mut before: Vec<&Fed> = fed.iter().filter(|event| event.tick < region.end).collect();
    before.sort_by_key(|event| event.tick);
    let own: HashMap<Destination, Message> =
        before.iter().filter_map(|it| Some((lasting(it.message)?, it.message))).collect();
    let mut closings: Vec<SentMessage> = Vec::new();
    let mut seen: HashSet<Destination> = HashSet::new();
    for sent in inside.iter().rev() {
        let Origin::Layer(layer) = sent.origin else { continue };
        let Some(destination) =
            lasting(sent.message).filter(|destination| seen.insert(*destination))
        else {
            continue;
        };
        let own = own.get(&destination).copied();
        let message = own.or_else(|| at_rest(layer, sent.message, target));
        if let Some(message) = message.filter(|message| *message != sent.message) {
            closings.push(SentMessage { message, ..*sent });
        }
    }
    closings.reverse();
    closings
}

/// Where a message goes, if its value lasts there.
fn lasting(message: Message) -> Option<Destination> {
    Some(Destination::of(message).0).filter(|destination| destination.is_lasting())
}

/// The message that puts an output back where a receiver has it when nobody has played yet.
fn at_rest(layer: Layer, sent: Message, target: &TargetPatch) -> Option<Message> {
    let outputs = &target.outputs[..target.output_count];
    let value = outputs.iter().find(|output| output.layer == layer).map(resting);
    match sent {
        Message::PitchBend { channel, .. } => {
            Some(Message::PitchBend { channel, value: BEND_CENTRE })
        }
        Message::Controller {
            channel,
            number: number @ (PORTAMENTO_SWITCH | LEGATO_SWITCH),
            ..
        } if layer == Layer::Slide => Some(Message::Controller { channel, number, value: 0 }),
        Message::Controller { channel, number, .. } => {
            let (address, value) = value?;
            let value = match address {
                Address::Controller(own) if own == number => value,
                Address::ControllerPair(coarse) if coarse == number => value >> 7,
                Address::ControllerPair(_) => value & 0x7F,
                _ => return None,
            };
            Some(Message::Controller { channel, number, value: value as u8 })
        }
        Message::ChannelPressure { channel, .. } => {
            Some(Message::ChannelPressure { channel, value: value?.1 as u8 })
        }
        _ => None,
    }
}

/// An output's address and resting value; a level rests at full.
fn resting(output: &OutputPatch) -> (Address, u16) {
    let value = match output.layer {
        Layer::Dynamics | Layer::Expression if output.is_inverted => output.min,
        Layer::Dynamics | Layer::Expression => output.max,
        _ => output.rest,
    };
    (output.address, value)
}
