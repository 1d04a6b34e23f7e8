//! What the take already sends where the performance would: drawn automation under ours.
//!
//! A lane is two different values of one address on the line's channel. One value alone sets the
//! receiver up. The gesture is used up and the player's bend is added, so neither is a lane.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::fmt;

use super::report::layer_name;
use crate::engine::Message;
use crate::engine::input::message::FINE_CONTROLLER_OFFSET;
use crate::engine::patch::{Address, TargetPatch};
use crate::engine::{Layer, Origin};
use crate::offline::destination::Destination;
use crate::offline::midi::File;
use crate::offline::perform::{Fed, SentMessage};
use crate::offline::take::line::{TakeLine, carries};
use crate::offline::take::{PreparedTake, Settings};

/// What becomes of the take's own lanes at addresses that the performance drives.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LaneRule {
    /// The take is refused.
    #[default]
    Refuse,
    /// They are taken out, and kept for the way back.
    Replace,
    /// They stay, and nothing of ours is written there.
    Keep,
}

impl LaneRule {
    /// As the marker has it.
    pub fn name(self) -> &'static str {
        match self {
            LaneRule::Refuse => "refused",
            LaneRule::Replace => "replaced",
            LaneRule::Keep => "kept",
        }
    }

    /// What is said of each lane.
    pub fn sentence(self) -> &'static str {
        match self {
            LaneRule::Refuse => "refused",
            LaneRule::Replace => "taken out; peel gives them back",
            LaneRule::Keep => "they stay, and nothing of ours is written there",
        }
    }
}

/// One address that moves in a track of the take and is driven by the performance.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeLane {
    /// The track, from 0.
    track: usize,
    channel: u8,
    destination: Destination,
    /// What drives it.
    layer: Layer,
    /// The places of its messages in the track, those inside the bars that are shaped.
    places: Vec<usize>,
}

impl fmt::Display for TakeLane {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let TakeLane { track, channel, destination, layer, places } = self;
        let (count, layer) = (places.len(), layer_name(*layer, &[]));
        let messages = if count == 1 { "message" } else { "messages" };
        write!(
            f,
            "track {}, channel {}: {count} {destination} {messages}, where {layer} goes",
            track + 1,
            channel + 1
        )
    }
}

/// The lanes of a take under one line.
#[derive(Clone, Debug, Default)]
pub struct Lanes {
    /// In order of addresses and tracks.
    all: Vec<TakeLane>,
    /// What is sent to their addresses in tracks that the line does not hear.
    pub elsewhere: Vec<Fed>,
}

impl Lanes {
    /// Looks for what is sent on the line's channel to the addresses that `sent` drives: in its own
    /// track, and in tracks without notes if no other line is played on that channel.
    pub fn of(
        take: &PreparedTake,
        settings: &Settings,
        line: &TakeLine,
        sent: &[SentMessage],
    ) -> Lanes {
        let driven = driven(sent);
        let source = settings.patch.hand.source;
        let mut values: BTreeMap<Destination, BTreeSet<u16>> = BTreeMap::new();
        let mut places: BTreeMap<(Destination, usize), Vec<usize>> = BTreeMap::new();
        let mut elsewhere = Vec::new();
        for track in tracks_of(&take.file, line) {
            let events = take.file.tracks[track].events.iter().enumerate();
            let own = events.filter_map(|(place, event)| Some((place, event, event.message()?)));
            for (place, event, message) in own {
                let (destination, value) = Destination::of(message);
                if message.channel() != line.channel
                    || !driven.contains_key(&destination)
                    || carries(source, message)
                {
                    continue;
                }
                values.entry(destination).or_default().insert(value);
                if track != line.track {
                    elsewhere.push(Fed { tick: event.tick, track, index: place, message });
                }
                if take.region.holds(event.tick) {
                    places.entry((destination, track)).or_default().push(place);
                }
            }
        }
        let lanes =
            places.into_iter().filter(|((destination, _), _)| values[destination].len() > 1);
        let lanes = lanes.map(|((destination, track), places)| TakeLane {
            track,
            channel: line.channel,
            destination,
            layer: driven[&destination],
            places,
        });
        Lanes { all: lanes.collect(), elsewhere }
    }

    /// Whether nothing is in the way.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// Each lane in words.
    pub fn sentences(&self) -> Vec<String> {
        self.all.iter().map(TakeLane::to_string).collect()
    }

    /// Track and place of every message.
    pub fn places(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.all.iter().flat_map(|lane| lane.places.iter().map(|place| (lane.track, *place)))
    }

    /// Their addresses.
    pub fn destinations(&self) -> HashSet<Destination> {
        self.all.iter().map(|lane| lane.destination).collect()
    }

    /// The addresses to which nothing of ours is written if they stay: of a pair of controllers
    /// both.
    pub fn kept_destinations(&self, target: &TargetPatch) -> HashSet<Destination> {
        let mut kept = self.destinations();
        for output in target.outputs() {
            if let Address::ControllerPair(coarse) = output.address {
                let both = [coarse, coarse + FINE_CONTROLLER_OFFSET].map(Destination::Controller);
                if both.iter().any(|it| kept.contains(it)) {
                    kept.extend(both);
                }
            }
        }
        kept
    }
}

/// The addresses whose values last and move, and what drives them.
fn driven(sent: &[SentMessage]) -> BTreeMap<Destination, Layer> {
    let mut driven = BTreeMap::new();
    for sent in sent {
        let Origin::Layer(layer) = sent.origin else { continue };
        let destination = Destination::of(sent.message).0;
        if destination.is_lasting() && destination != Destination::PitchBend {
            driven.entry(destination).or_insert(layer);
        }
    }
    driven
}

/// The tracks whose messages on the line's channel reach the receiver of the line.
fn tracks_of(file: &File, line: &TakeLine) -> Vec<usize> {
    let has_notes = |track: usize| {
        file.tracks[track].events.iter().any(|event| {
            matches!(event.message(), Some(Message::NoteOn { channel, .. }) if channel == line.channel)
        })
    };
    let others = || (0..file.tracks.len()).filter(|track| *track != line.track);
    match others().any(has_notes) {
        true => vec![line.track],
        false => (0..file.tracks.len()).collect(),
    }
}
