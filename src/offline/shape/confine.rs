//! Some bars only: inside them the performance, outside them the take, and a clean seam between.

use std::collections::{HashMap, HashSet, VecDeque};

use crate::engine::input::message::{BEND_CENTRE, LEGATO_SWITCH, PORTAMENTO_SWITCH};
use crate::engine::patch::{Address, ArticulationPatch, OutputPatch, TargetPatch};
use crate::engine::{Layer, Message, Origin};
use crate::offline::destination::Destination;
use crate::offline::perform::{Fed, SentMessage};
use crate::offline::take::Region;

/// Data entry and the parametre numbers: meaningless outside their sequences (MIDI 1.0).
const PARAMETER_CONTROLLERS: [u8; 8] = [6, 38, 96, 97, 98, 99, 100, 101];

/// The part of a performance that lies inside the region, closed at its last tick: owed offs,
/// keyswitches, bend, levels and controllers.
pub fn confine(
    sent: Vec<SentMessage>,
    fed: &[Fed],
    region: Region,
    target: &TargetPatch,
) -> Vec<SentMessage> {
    if region == Region::ALL {
        return sent;
    }
    let mut seam = Seam::of(fed, region);
    let last_tick = region.end.saturating_sub(1).max(region.start);
    let mut inside: Vec<SentMessage> = Vec::new();
    let mut after: Vec<SentMessage> = Vec::new();
    let mut switches: Vec<(u8, u8, Origin)> = Vec::new();
    for sent in sent {
        let is_inside = region.holds(sent.tick);
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { channel, key, .. }) if is_inside => {
                inside.extend(seam.strike(tag, (channel, key), sent));
            }
            (Origin::Note(tag), Message::NoteOff { channel, key, .. }) => {
                if is_inside {
                    inside.extend(seam.release(tag, (channel, key), sent));
                } else if sent.tick >= region.end && region.holds(seam.lifted_at(tag)) {
                    after.push(SentMessage { tick: last_tick, ..sent });
                }
            }
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
        let values = closing_values(&inside, fed, region, target);
        inside.extend(after);
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

/// Which notes sound inside the region: those that the take has begun before it too. A join may end
/// a note, and strike it again, whose own on or off lies outside and stays there.
struct Seam {
    region: Region,
    lifted: Vec<Option<u64>>,
    sounding: HashSet<u32>,
    /// Offs of notes that the take lifts behind the region, by channel and key.
    cut: HashMap<(u8, u8), SentMessage>,
}

impl Seam {
    fn of(fed: &[Fed], region: Region) -> Seam {
        let lifted = lifted_ticks(fed);
        let is_before = |(_, event): &(usize, &Fed)| {
            event.tick < region.start && matches!(event.message, Message::NoteOn { .. })
        };
        let begun = fed.iter().enumerate().filter(is_before);
        let last = |(tag, _): &(usize, &Fed)| lifted[*tag].is_none_or(|it| it >= region.start);
        let sounding = begun.filter(last).map(|(tag, _)| tag as u32).collect();
        Seam { region, lifted, sounding, cut: HashMap::new() }
    }

    /// When the take lifts a note; never is later than all.
    fn lifted_at(&self, tag: u32) -> u64 {
        self.lifted.get(tag as usize).copied().flatten().unwrap_or(u64::MAX)
    }

    /// A note-on inside the region, after the off of the same key that was held back in this moment.
    fn strike(
        &mut self,
        tag: u32,
        key: (u8, u8),
        on: SentMessage,
    ) -> impl Iterator<Item = SentMessage> + use<> {
        let off = self.cut.remove(&key).filter(|off| off.tick == on.tick);
        let on = self.sounding.insert(tag).then_some(on);
        off.into_iter().chain(on)
    }

    /// An off inside the region. That of a note whose own off lies behind is held back: a join has
    /// cut the note, and the take's own off ends it.
    fn release(&mut self, tag: u32, key: (u8, u8), off: SentMessage) -> Option<SentMessage> {
        let lifted_at = self.lifted_at(tag);
        if (self.region.end..u64::MAX).contains(&lifted_at) {
            self.cut.insert(key, off);
            return None;
        }
        (lifted_at >= self.region.start && self.sounding.remove(&tag)).then_some(off)
    }
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

/// When the take lifts each note, by tags: first in, first out for each key.
fn lifted_ticks(fed: &[Fed]) -> Vec<Option<u64>> {
    let mut lifted = vec![None; fed.len()];
    let mut held: Vec<VecDeque<usize>> = vec![Default::default(); 128];
    for (tag, event) in fed.iter().enumerate() {
        match event.message {
            Message::NoteOn { key, .. } => held[usize::from(key)].push_back(tag),
            Message::NoteOff { key, .. } => {
                if let Some(on) = held[usize::from(key)].pop_front() {
                    lifted[on] = Some(event.tick);
                }
            }
            _ => {}
        }
    }
    lifted
}

/// The values that leave the receiver as the take expects it after the region: what the take
/// itself sent last; else levels full, bend centred, the rest at rest.
fn closing_values(
    inside: &[SentMessage],
    fed: &[Fed],
    region: Region,
    target: &TargetPatch,
) -> Vec<SentMessage> {
    let before = fed.iter().map(|event| (event.tick, event.message));
    let before = before.take_while(|(tick, _)| *tick < region.end);
    let own: HashMap<Destination, Message> =
        before.filter_map(|(_, message)| Some((lasting(message)?, message))).collect();
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
    match Destination::of(message).0 {
        Destination::Controller(number) if PARAMETER_CONTROLLERS.contains(&number) => None,
        destination @ (Destination::Controller(_)
        | Destination::PitchBend
        | Destination::ChannelPressure) => Some(destination),
        Destination::PolyPressure | Destination::Program | Destination::Key => None,
    }
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
