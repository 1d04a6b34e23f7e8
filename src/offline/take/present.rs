//! Which controllers of a take could be a gesture, where the one that is asked for is not there.

use std::collections::{BTreeMap, BTreeSet};

use super::line::{TakeLine, carries};
use crate::engine::Message;
use crate::engine::patch::Source;
use crate::offline::error::Error;
use crate::offline::midi::{File, TempoMap};
use crate::profile::address::source_text;

/// A hand's attack is over long before; a note that far ahead of the gesture was played without it.
const LATE_S: f64 = 0.5;
/// MIDI 1.0: bank select, data entry, the switches 64 to 69, data up and down, parameter numbers.
const NO_GESTURES: [u8; 16] = [0, 6, 32, 38, 64, 65, 66, 67, 68, 69, 96, 97, 98, 99, 100, 101];
/// Above it MIDI 1.0 has channel mode messages.
const CONTROLLER_MAX: u8 = 119;

/// A controller that moves on a line's channel.
#[derive(Default)]
struct Moving {
    count: usize,
    /// At most two: the third tells no more.
    values: BTreeSet<u16>,
    tracks: BTreeSet<usize>,
}

/// Looks whether each line has its gesture. Gives a sentence for each that has it late or stands
/// still while others move.
///
/// # Errors
/// [`Error::OtherSource`] for a line without the gesture on whose channel another could be one. A
/// line without any is still shaped, as one that was drawn with the mouse always was: notes alone
/// have their joins, articulations and endings.
pub fn check(file: &File, lines: &[TakeLine], source: Source) -> Result<Vec<String>, Error> {
    let clock = TempoMap::of(file);
    let mut notices = Vec::new();
    for line in lines.iter().filter(|_| source != Source::Parameter) {
        let moving = moving(file, line.channel);
        let own = moving.iter().filter(|(other, _)| !is_same(source, **other));
        // The player's own bend is added to the line; alone it is no sign of a gesture.
        let own = own.filter(|(other, it)| it.values.len() > 1 && other.0 != BEND.0);
        let mut others: Vec<(&Kind, &Moving)> = own.collect();
        others.sort_by_key(|(_, it)| std::cmp::Reverse(it.count));
        let place = format!("track {}, channel {}", line.track + 1, line.channel + 1);
        let is_still = moving
            .iter()
            .filter(|(kind, _)| is_same(source, **kind))
            .all(|(_, it)| it.values.len() < 2);
        match others.first() {
            Some((best, _)) if line.gesture_count == 0 => {
                return Err(Error::OtherSource {
                    place,
                    gesture: source_text(source),
                    others: list(&others),
                    option: best.option(),
                });
            }
            Some((best, _)) if is_still => notices.push(format!(
                "{place}: {} stays where it is; there are {}: --source {}",
                source_text(source),
                list(&others),
                best.option()
            )),
            _ => notices.extend(late(file, line, source, &clock)),
        }
    }
    Ok(notices)
}

/// A kind of message that moves: its status and, of a controller, its number.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Kind(u8, u8);

const BEND: Kind = Kind(0xE0, 0);

impl Kind {
    /// The kind of a message that could be a gesture, and its value.
    fn of(message: Message) -> Option<(Kind, u16)> {
        Some(match message {
            Message::Controller { number, value, .. } => {
                let is_gesture = number <= CONTROLLER_MAX && !NO_GESTURES.contains(&number);
                return is_gesture.then_some((Kind(0xB0, number), value.into()));
            }
            Message::ChannelPressure { value, .. } => (Kind(0xD0, 0), value.into()),
            Message::PolyPressure { value, .. } => (Kind(0xA0, 0), value.into()),
            Message::PitchBend { value, .. } => (BEND, value),
            _ => return None,
        })
    }

    fn text(self) -> String {
        match self {
            Kind(0xB0, number) => format!("cc {number}"),
            Kind(0xD0, _) => "channel pressure".to_owned(),
            Kind(0xA0, _) => "poly pressure".to_owned(),
            _ => "pitch bend".to_owned(),
        }
    }

    /// As one types it after `--source`.
    fn option(self) -> String {
        match self {
            Kind(0xD0, _) => "pressure".to_owned(),
            Kind(0xA0, _) => "\"poly pressure\"".to_owned(),
            other => other.text().replace(' ', ""),
        }
    }
}

fn is_same(source: Source, kind: Kind) -> bool {
    let message = match kind {
        Kind(0xB0, number) => Message::Controller { channel: 0, number, value: 0 },
        Kind(0xD0, _) => Message::ChannelPressure { channel: 0, value: 0 },
        Kind(0xA0, _) => Message::PolyPressure { channel: 0, key: 0, value: 0 },
        _ => Message::PitchBend { channel: 0, value: 0 },
    };
    carries(source, message)
}

/// What moves on a channel, in any track: a gesture may stand beside its notes.
fn moving(file: &File, channel: u8) -> BTreeMap<Kind, Moving> {
    let mut moving: BTreeMap<Kind, Moving> = BTreeMap::new();
    for (track, content) in file.tracks.iter().enumerate() {
        let messages = content.events.iter().filter_map(|event| event.message());
        for message in messages.filter(|message| message.channel() == channel) {
            let Some((kind, value)) = Kind::of(message) else { continue };
            let it = moving.entry(kind).or_default();
            it.count += 1;
            it.tracks.insert(track);
            if it.values.len() < 2 {
                it.values.insert(value);
            }
        }
    }
    moving
}

fn list(others: &[(&Kind, &Moving)]) -> String {
    let each = others.iter().map(|(kind, it)| {
        let tracks: Vec<String> = it.tracks.iter().map(|track| (track + 1).to_string()).collect();
        let word = if tracks.len() == 1 { "track" } else { "tracks" };
        format!("{} ({}, {word} {})", kind.text(), it.count, tracks.join(" and "))
    });
    each.collect::<Vec<_>>().join(", ")
}

/// Notes that begin well before the gesture's first message.
fn late(file: &File, line: &TakeLine, source: Source, clock: &TempoMap) -> Option<String> {
    let own = |event: &&crate::offline::midi::TrackEvent| {
        let message = event.message();
        message.is_some_and(|it| it.channel() == line.channel && carries(source, it))
    };
    let first_s = clock.seconds_at(file.tracks[line.gesture_track].events.iter().find(own)?.tick);
    let is_ahead = |event: &&crate::offline::midi::TrackEvent| {
        let on = event.message().filter(|it| it.channel() == line.channel);
        matches!(on, Some(Message::NoteOn { .. }))
            && first_s - clock.seconds_at(event.tick) > LATE_S
    };
    let ahead = file.tracks[line.track].events.iter().filter(is_ahead).count();
    (ahead > 0).then(|| {
        let (track, channel) = (line.track + 1, line.channel + 1);
        let notes = if ahead == 1 { "1 note has" } else { &format!("{ahead} notes have") };
        format!(
            "track {track}, channel {channel}: {} begins at {first_s:.1} s; {notes} begun before, \
             with the gesture at rest",
            source_text(source)
        )
    })
}
