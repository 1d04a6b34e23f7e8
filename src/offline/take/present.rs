//! Which controllers of a take could be a gesture, where the one that is asked for is not there.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::line::{TakeLine, carries};
use crate::engine::Message;
use crate::engine::patch::Source;
use crate::offline::error::Error;
use crate::offline::midi::{File, TempoMap, TrackEvent};
use crate::profile::address::{source_option, source_text};

/// A hand's attack is over long before; a note that far ahead of the gesture was played without it.
const LATE_S: f64 = 0.5;
/// MIDI 1.0: bank select, data entry, balance and pan, the switches 64 to 69, the key that a
/// portamento comes from, the depths of effects, data up and down, parameter numbers.
const NO_GESTURES: [u8; 24] =
    [0, 6, 8, 10, 32, 38, 64, 65, 66, 67, 68, 69, 84, 91, 92, 93, 94, 95, 96, 97, 98, 99, 100, 101];
/// MIDI 1.0: volume. Who mixes moves it, not who plays: only where nothing else moves is it the
/// gesture (common practice, no source).
const VOLUME: u8 = 7;
/// Above it MIDI 1.0 has channel mode messages.
const CONTROLLER_MAX: u8 = 119;

/// A kind of message that moves on a channel.
struct Moving {
    /// One of them.
    sample: Message,
    /// The source that it would be.
    source: Source,
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
pub fn check(
    file: &File,
    lines: &[TakeLine],
    source: Source,
    clock: &TempoMap,
) -> Result<Vec<String>, Error> {
    let mut notices = Vec::new();
    if source == Source::Parameter {
        return Ok(notices);
    }
    let channels = moving(file);
    for line in lines {
        let all = channels[usize::from(line.channel)].values();
        let (own, mut others): (Vec<_>, Vec<_>) = all.partition(|it| carries(source, it.sample));
        // The player's own bend is added to the line; alone it is no sign of a gesture.
        others.retain(|it| it.values.len() > 1 && it.source != Source::PitchBend);
        others.sort_by_key(|it| unlikeness(it.source, it.count));
        let place = format!("track {}, channel {}", line.track + 1, line.channel + 1);
        let is_still = own.iter().all(|it| it.values.len() < 2);
        match others.first() {
            Some(best) if line.gesture_count == 0 => {
                return Err(Error::OtherSource {
                    place,
                    gesture: source_text(source),
                    others: list(&others),
                    option: source_option(best.source),
                });
            }
            Some(best) if is_still => notices.push(format!(
                "{place}: {} stays where it is; there are {}: --source {}",
                source_text(source),
                list(&others),
                source_option(best.source)
            )),
            _ => notices.extend(late(file, line, source, clock).map(|it| format!("{place}: {it}"))),
        }
    }
    Ok(notices)
}

/// What moves on each channel, in any track: a gesture may stand beside its notes. In the order of
/// the messages' status and number.
fn moving(file: &File) -> [BTreeMap<(u8, u8), Moving>; 16] {
    let mut channels: [BTreeMap<(u8, u8), Moving>; 16] = Default::default();
    for (track, content) in file.tracks.iter().enumerate() {
        for sample in content.events.iter().filter_map(|event| event.message()) {
            let Some((key, source, value)) = gesture_of(sample) else { continue };
            let it = channels[usize::from(sample.channel())].entry(key).or_insert_with(|| Moving {
                sample,
                source,
                count: 0,
                values: BTreeSet::new(),
                tracks: BTreeSet::new(),
            });
            it.count += 1;
            it.tracks.insert(track);
            if it.values.len() < 2 {
                it.values.insert(value);
            }
        }
    }
    channels
}

/// How little a source looks like the gesture of somebody who plays, to sort by: what moves most
/// first, and the volume last.
pub fn unlikeness(source: Source, count: usize) -> (bool, Reverse<usize>) {
    (source == Source::Controller(VOLUME), Reverse(count))
}

/// Status and number, source and value of a message that could be a gesture.
pub fn gesture_of(message: Message) -> Option<((u8, u8), Source, u16)> {
    Some(match message {
        Message::PolyPressure { value, .. } => ((0xA0, 0), Source::PolyPressure, value.into()),
        Message::Controller { number, value, .. } => {
            let is_gesture = number <= CONTROLLER_MAX && !NO_GESTURES.contains(&number);
            return is_gesture.then_some((
                (0xB0, number),
                Source::Controller(number),
                value.into(),
            ));
        }
        Message::ChannelPressure { value, .. } => {
            ((0xD0, 0), Source::ChannelPressure, value.into())
        }
        Message::PitchBend { value, .. } => ((0xE0, 0), Source::PitchBend, value),
        _ => return None,
    })
}

fn list(others: &[&Moving]) -> String {
    let each = others.iter().map(|it| {
        let tracks: Vec<String> = it.tracks.iter().map(|track| (track + 1).to_string()).collect();
        let word = if tracks.len() == 1 { "track" } else { "tracks" };
        format!("{} ({}, {word} {})", source_text(it.source), it.count, tracks.join(" and "))
    });
    each.collect::<Vec<_>>().join(", ")
}

/// Notes that begin well before the gesture's first message.
fn late(file: &File, line: &TakeLine, source: Source, clock: &TempoMap) -> Option<String> {
    let own = |event: &&TrackEvent| {
        let message = event.message();
        message.is_some_and(|it| it.channel() == line.channel && carries(source, it))
    };
    let first_s = clock.seconds_at(file.tracks[line.gesture_track].events.iter().find(own)?.tick);
    let is_ahead = |event: &&TrackEvent| {
        let on = event.message().filter(|it| it.channel() == line.channel);
        matches!(on, Some(Message::NoteOn { .. }))
            && first_s - clock.seconds_at(event.tick) > LATE_S
    };
    let ahead = file.tracks[line.track].events.iter().filter(is_ahead).count();
    (ahead > 0).then(|| {
        let notes = if ahead == 1 { "1 note has" } else { &format!("{ahead} notes have") };
        format!(
            "{} begins at {first_s:.1} s; {notes} begun before, with the gesture at rest",
            source_text(source)
        )
    })
}
