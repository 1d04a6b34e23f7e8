//! A track of a file: its names, and what each of its channels plays and sends.

use serde::Serialize;

use super::instrument::ToldInstrument;
use super::lane::LookedLane;
use super::notes::LookedNotes;
use super::part::{PartTally, ProgramChoice};
use crate::engine::input::message::CHANNEL_COUNT;
use crate::engine::patch::TargetPatch;
use crate::offline::midi::{TempoMap, Track};

/// The channel of the drums in General MIDI, from 0.
const DRUM_CHANNEL: u8 = 9;

/// A track.
#[derive(Clone, Debug, Serialize)]
pub struct LookedTrack {
    /// From 1.
    pub track: usize,
    /// Its name, if it has one.
    pub name: Option<String>,
    /// The name of its instrument, if it says so.
    pub instrument_name: Option<String>,
    /// Its channels.
    pub parts: Vec<LookedPart>,
}

/// One channel of one track.
#[derive(Clone, Debug, Serialize)]
pub struct LookedPart {
    /// From 1.
    pub channel: u8,
    /// General MIDI has its drums here.
    pub is_drum_channel: bool,
    /// The programs that are chosen.
    pub programs: Vec<ProgramChoice>,
    /// Its notes, if it has any.
    pub notes: Option<LookedNotes>,
    /// Everything else that is sent on it, in order of status and number.
    pub lanes: Vec<LookedLane>,
    /// Which instrument it could be; `None` without notes.
    pub instrument: Option<ToldInstrument>,
}

/// The channels of a track, each of them finished by `tell`.
pub fn parts(
    track: &Track,
    clock: &TempoMap,
    target: &TargetPatch,
    tell: impl Fn(&mut LookedPart),
) -> Vec<LookedPart> {
    let mut tallies: [Option<PartTally>; CHANNEL_COUNT] = Default::default();
    for event in &track.events {
        let Some(message) = event.message() else { continue };
        let channel = usize::from(message.channel());
        let tally = tallies[channel].get_or_insert_default();
        tally.take(message, clock.seconds_at(event.tick));
    }
    let end_s = clock.seconds_at(track.end_tick);
    let all = tallies.into_iter().zip(0..).filter_map(|(tally, channel)| Some((tally?, channel)));
    let parts = all.map(|(tally, channel)| {
        let part = tally.finish(end_s, channel == DRUM_CHANNEL, target);
        let mut part = LookedPart {
            channel: channel + 1,
            is_drum_channel: channel == DRUM_CHANNEL,
            programs: part.programs,
            notes: part.notes,
            lanes: part.lanes,
            instrument: None,
        };
        tell(&mut part);
        part
    });
    parts.collect()
}
