//! Finds the lines of a file: the notes of one track and channel, and the gesture that goes with them.

use std::collections::{BTreeMap, BTreeSet};

use crate::engine::Message;
use crate::engine::input::message::FINE_CONTROLLER_OFFSET;
use crate::engine::patch::{Patch, Source};
use crate::offline::error::Error;
use crate::offline::midi::{File, TrackEvent};
use crate::profile::address::source_text;

/// MPE's timbre is controller 74 (M1-100-UM).
const TIMBRE_CONTROLLER: u8 = 74;

/// The most lines or tracks that an error lists.
const SHOWN_MAX: usize = 100;

/// One line of music.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TakeLine {
    /// The track of the notes, from 0.
    pub track: usize,
    /// 0..=15.
    pub channel: u8,
    /// The track of the gesture: the same one, or another with the same channel and no notes on it.
    pub gesture_track: usize,
    /// Note-ons.
    pub note_count: usize,
    /// Messages of the gesture.
    pub gesture_count: usize,
}

impl TakeLine {
    /// Its track and channel, in whose order lines stand.
    pub fn place(&self) -> (usize, u8) {
        (self.track, self.channel)
    }

    /// The notes of the line, tick and key, in order of ticks; keys that choose an articulation
    /// and another player's are none.
    pub fn notes(&self, file: &File, patch: &Patch) -> Vec<(u64, u8)> {
        let is_note =
            |key: u8| patch.hand.articulation_of(key).is_none() && !patch.notes.is_foreign(key);
        let on = |event: &TrackEvent| match event.message()? {
            Message::NoteOn { channel, key, .. } if channel == self.channel => {
                is_note(key).then_some((event.tick, key))
            }
            _ => None,
        };
        file.tracks[self.track].events.iter().filter_map(on).collect()
    }
}

/// The lines to shape and what the user should know about the choice, one sentence each.
#[derive(Debug, PartialEq)]
pub struct Choice {
    /// In the order of tracks and channels; never empty.
    pub lines: Vec<TakeLine>,
    /// Sentences.
    pub notices: Vec<String>,
}

/// What a track holds on one channel.
#[derive(Default)]
struct ChannelContents {
    note_count: usize,
    gesture_count: usize,
    controllers: BTreeMap<u8, usize>,
    has_channel_pressure: bool,
    has_bend: bool,
}

/// The lines of a file that `tracks` and `channels` (both from 1) name; if one of them is empty, all
/// tracks or channels are meant, and if both are, every line with a gesture, or the only line there
/// is.
///
/// # Errors
/// [`Error::Track`], [`Error::Channel`], [`Error::NoNotes`] or [`Error::NoGesture`].
pub fn choose(
    file: &File,
    source: Source,
    tracks: &[usize],
    channels: &[u8],
) -> Result<Choice, Error> {
    let parts = parts(file, source);
    let lines = of_parts(&parts);
    let chosen = chosen(&lines, tracks, channels)?;
    if chosen.is_empty() {
        return Err(Error::NoGesture {
            gesture: source_text(source),
            lines: describe(&lines, &parts),
        });
    }
    let mut notices: Vec<String> = chosen.iter().filter_map(|line| notice(line, source)).collect();
    if tracks.is_empty() && channels.is_empty() {
        notices.extend(untouched(&lines, &chosen, source));
    }
    Ok(Choice { lines: chosen, notices })
}

/// Every line of a file, in the order of tracks and channels.
pub fn lines(file: &File, source: Source) -> Vec<TakeLine> {
    of_parts(&parts(file, source))
}

/// The parts with notes, each with its gesture.
fn of_parts(parts: &BTreeMap<(usize, u8), ChannelContents>) -> Vec<TakeLine> {
    let users = channel_users(parts);
    let with_notes = parts.iter().filter(|(_, part)| part.note_count > 0);
    let line = |(&(track, channel), part): (&(usize, u8), &ChannelContents)| {
        let lender = users[usize::from(channel)].lender();
        let gesture_track = lender.filter(|_| part.gesture_count == 0).unwrap_or(track);
        let gesture_count = parts[&(gesture_track, channel)].gesture_count;
        TakeLine { track, channel, gesture_track, note_count: part.note_count, gesture_count }
    };
    with_notes.map(line).collect()
}

fn parts(file: &File, source: Source) -> BTreeMap<(usize, u8), ChannelContents> {
    let mut parts: BTreeMap<(usize, u8), ChannelContents> = BTreeMap::new();
    for (track, content) in file.tracks.iter().enumerate() {
        for message in content.events.iter().filter_map(|event| event.message()) {
            let part = parts.entry((track, message.channel())).or_default();
            part.gesture_count += usize::from(carries(source, message));
            match message {
                Message::NoteOn { .. } => part.note_count += 1,
                Message::Controller { number, .. } => {
                    *part.controllers.entry(number).or_default() += 1;
                }
                Message::ChannelPressure { .. } => part.has_channel_pressure = true,
                Message::PitchBend { .. } => part.has_bend = true,
                _ => {}
            }
        }
    }
    parts
}

/// Which tracks use a channel.
#[derive(Clone, Copy, Default)]
struct ChannelUsers {
    note_tracks: usize,
    gesture_tracks: usize,
    /// The last of those with a gesture.
    gesture_track: usize,
}

impl ChannelUsers {
    /// The one track that lends its gesture to the one line of this channel, which has none
    /// itself. It must be clear to whom the gesture belongs.
    fn lender(&self) -> Option<usize> {
        (self.note_tracks == 1 && self.gesture_tracks == 1).then_some(self.gesture_track)
    }
}

fn channel_users(parts: &BTreeMap<(usize, u8), ChannelContents>) -> [ChannelUsers; 16] {
    let mut users = [ChannelUsers::default(); 16];
    for (&(track, channel), part) in parts {
        let users = &mut users[usize::from(channel)];
        users.note_tracks += usize::from(part.note_count > 0);
        if part.gesture_count > 0 {
            users.gesture_tracks += 1;
            users.gesture_track = track;
        }
    }
    users
}

fn chosen(lines: &[TakeLine], tracks: &[usize], channels: &[u8]) -> Result<Vec<TakeLine>, Error> {
    if lines.is_empty() {
        return Err(Error::NoNotes);
    }
    for &given in tracks {
        if lines.binary_search_by_key(&given, |line| line.track + 1).is_err() {
            let mut numbers: Vec<String> =
                lines.iter().map(|line| (line.track + 1).to_string()).collect();
            numbers.dedup();
            return Err(Error::Track { given, with_notes: first_ones(&numbers, ", ") });
        }
    }
    let tracks: BTreeSet<usize> = tracks.iter().copied().collect();
    let is_track = |line: &&TakeLine| tracks.is_empty() || tracks.contains(&(line.track + 1));
    let of_tracks: Vec<TakeLine> = lines.iter().filter(is_track).copied().collect();
    for &given in channels {
        if !of_tracks.iter().any(|line| line.channel + 1 == given) {
            let own: BTreeSet<u8> = of_tracks.iter().map(|line| line.channel + 1).collect();
            let numbers: Vec<String> = own.iter().map(u8::to_string).collect();
            return Err(Error::Channel { given, with_notes: numbers.join(", ") });
        }
    }
    if !tracks.is_empty() || !channels.is_empty() {
        let is_channel =
            |line: &TakeLine| channels.is_empty() || channels.contains(&(line.channel + 1));
        return Ok(of_tracks.into_iter().filter(is_channel).collect());
    }
    if let [line] = lines {
        return Ok(vec![*line]);
    }
    Ok(lines.iter().filter(|line| line.gesture_count > 0).copied().collect())
}

fn notice(line: &TakeLine, source: Source) -> Option<String> {
    let TakeLine { track, channel, gesture_track, gesture_count, .. } = *line;
    let place = format!("track {}, channel {}", track + 1, channel + 1);
    if gesture_count == 0 {
        return Some(format!(
            "{place}: no {} here, so the gesture never moves",
            source_text(source)
        ));
    }
    (gesture_track != track)
        .then(|| format!("{place}: the gesture is taken from track {}", gesture_track + 1))
}

/// Lines that nobody named and that have no gesture.
fn untouched(lines: &[TakeLine], chosen: &[TakeLine], source: Source) -> Option<String> {
    let is_left =
        |line: &&TakeLine| chosen.binary_search_by_key(&line.place(), TakeLine::place).is_err();
    let left: Vec<String> = lines
        .iter()
        .filter(is_left)
        .map(|line| {
            let notes = if line.note_count == 1 { "note" } else { "notes" };
            let TakeLine { track, channel, note_count, .. } = line;
            format!("track {} channel {} ({note_count} {notes})", track + 1, channel + 1)
        })
        .collect();
    let source = source_text(source);
    (!left.is_empty()).then(|| format!("untouched, without {source}: {}", first_ones(&left, ", ")))
}

/// So many of a list as a sentence can bear, and how many more there are.
fn first_ones(all: &[String], between: &str) -> String {
    let shown = all[..all.len().min(SHOWN_MAX)].join(between);
    match all.len().saturating_sub(SHOWN_MAX) {
        0 => shown,
        more => format!("{shown}{between}and {more} more"),
    }
}

/// Lines by place, with the controllers that move there.
fn describe(lines: &[TakeLine], parts: &BTreeMap<(usize, u8), ChannelContents>) -> String {
    let each = lines.iter().map(|line| {
        let part = &parts[&(line.track, line.channel)];
        // A controller that is sent once is a setting, not a gesture.
        let moved = part.controllers.iter().filter(|(_, count)| **count > 1);
        let mut moving: Vec<String> =
            moved.map(|(number, count)| format!("{count} cc{number}")).collect();
        moving.extend(part.has_channel_pressure.then(|| "channel pressure".to_owned()));
        moving.extend(part.has_bend.then(|| "pitch bend".to_owned()));
        let moving =
            if moving.is_empty() { "no moving controller".into() } else { moving.join(", ") };
        let TakeLine { track, channel, note_count, .. } = line;
        format!("track {} channel {} ({note_count} notes, {moving})", track + 1, channel + 1)
    });
    first_ones(&each.collect::<Vec<_>>(), "; ")
}

/// Whether this message moves the gesture.
pub fn carries(source: Source, message: Message) -> bool {
    match (source, message) {
        (Source::Controller(wanted), Message::Controller { number, .. }) => number == wanted,
        (Source::ControllerPair(wanted), Message::Controller { number, .. }) => {
            number == wanted || number == wanted + FINE_CONTROLLER_OFFSET
        }
        (Source::MpeTimbre, Message::Controller { number, .. }) => number == TIMBRE_CONTROLLER,
        (Source::ChannelPressure | Source::MpePressure, Message::ChannelPressure { .. })
        | (Source::PolyPressure, Message::PolyPressure { .. })
        | (Source::PitchBend, Message::PitchBend { .. }) => true,
        _ => false,
    }
}
