//! Punches bars of a new take into an old one, track by track.

use std::collections::{BTreeMap, BTreeSet};

use super::glide::{Seams, SentValues, glide, message};
use super::notes;
use crate::engine::Message;
use crate::offline::destination::Destination;
use crate::offline::error::Error;
use crate::offline::midi::{Bars, Division, File, MetreMap, TempoMap, Track, TrackEvent};
use crate::offline::take::Region;

/// Texts, lyrics, markers and cue points (SMF 1.0): words that belong to the notes.
const WORDS: [u8; 4] = [0x01, 0x05, 0x06, 0x07];
/// Above it MIDI 1.0 has channel mode messages.
const CONTROLLER_MAX: u8 = 119;
/// From here on MIDI 1.0 has the low bytes of controllers, switches and parametre numbers.
const GLIDING_MAX: u8 = 31;
/// Sound controllers, effects and the like, which move as those below 32 do (MIDI 1.0).
const GLIDING_ABOVE: std::ops::RangeInclusive<u8> = 70..=95;
/// Controllers that MIDI 1.0 leaves undefined.
const FREE: std::ops::RangeInclusive<u8> = 102..=CONTROLLER_MAX;

/// The old take with these bars of the new one. `tracks` are counted from 1; empty is every track
/// in which either has notes or a gesture.
///
/// # Errors
/// [`Error::Punch`] if the takes do not go together, [`Error::NoBars`], [`Error::BarsAfterEnd`],
/// [`Error::Track`].
pub fn punch(old: &File, new: &File, bars: Bars, tracks: &[usize]) -> Result<File, Error> {
    let (mut old, mut new) = (old.clone(), new.clone());
    if !new.rescale(old.division) && !old.rescale(new.division) {
        let what = |file: &File| match file.division {
            Division::Quarter(ticks) => format!("{ticks} ticks of a quarter note"),
            division => division.to_string(),
        };
        let (first, second) = (what(&old), what(&new));
        let why = format!("the old take counts {first}, the new one {second}, and neither fits");
        return Err(Error::Punch { why });
    }
    if TempoMap::of(&old) != TempoMap::of(&new) {
        return Err(Error::Punch { why: "the two takes have other tempos".to_owned() });
    }
    let metre = MetreMap::of(&old).ok_or(Error::NoBars)?;
    if MetreMap::of(&new).as_ref() != Some(&metre) {
        return Err(Error::Punch { why: "the two takes have other bars".to_owned() });
    }
    let within = Region::of(&old, Some(&metre), bars)?;
    Region::of(&new, Some(&metre), bars)?;
    // The new take may be the longer one.
    let end = bars.last.map_or(u64::MAX, |last| metre.bar_start(last.saturating_add(1)));
    let region = Region { end, ..within };
    let seams = seams(&metre, bars, region, within.end != u64::MAX);
    for number in chosen(&old, &new, tracks)? {
        old.tracks[number] = punch_track(&old.tracks[number], &new.tracks[number], region, &seams);
    }
    Ok(old)
}

/// The tracks to punch, from 0.
fn chosen(old: &File, new: &File, tracks: &[usize]) -> Result<Vec<usize>, Error> {
    let plays = |file: &File, number: usize| {
        file.tracks.get(number).is_some_and(|it| it.events.iter().any(|it| it.message().is_some()))
    };
    let count = old.tracks.len().max(new.tracks.len());
    let all: Vec<usize> =
        (0..count).filter(|number| plays(old, *number) || plays(new, *number)).collect();
    let both = old.tracks.len().min(new.tracks.len());
    let names = |all: &[usize]| {
        let names: Vec<String> = all.iter().map(|number| (number + 1).to_string()).collect();
        names.join(", ")
    };
    let in_both: Vec<usize> = all.iter().copied().filter(|number| *number < both).collect();
    if let Some(&given) = tracks.iter().find(|it| !in_both.contains(&(**it).wrapping_sub(1))) {
        return Err(Error::Track { given, with_notes: names(&in_both) });
    }
    if !tracks.is_empty() {
        let tracks: BTreeSet<usize> = tracks.iter().map(|track| track - 1).collect();
        return Ok(tracks.into_iter().collect());
    }
    match all == in_both {
        true => Ok(all),
        false => Err(Error::Punch {
            why: format!("the takes have other tracks; choose with --track: {}", names(&in_both)),
        }),
    }
}

/// Within the first bar the new take comes, within the last it goes; within one bar it does both.
/// `goes_on` says that the old take does after them.
fn seams(metre: &MetreMap, bars: Bars, region: Region, goes_on: bool) -> Seams {
    let first_end = metre.bar_start(bars.first.saturating_add(1)).min(region.end);
    let last_start = bars.last.filter(|_| goes_on).map(|last| metre.bar_start(last));
    let middle = region.start + (first_end - region.start) / 2;
    let is_one = last_start == Some(region.start);
    let coming = (region.start, if is_one { middle } else { first_end });
    let going = last_start.map(|start| (if is_one { middle } else { start }, region.end));
    Seams {
        coming: (region.start > 0).then_some(coming),
        going,
        start: region.start,
        end: region.end,
    }
}

/// Where a channel's messages go.
type ChannelAddress = (u8, Destination);

/// What becomes of an address at the seams.
fn is_gliding(destination: Destination) -> bool {
    match destination {
        Destination::Controller(number) => {
            (1..=GLIDING_MAX).contains(&number) && destination.is_lasting()
                || GLIDING_ABOVE.contains(&number)
                || FREE.contains(&number)
        }
        Destination::PitchBend | Destination::ChannelPressure => true,
        Destination::PolyPressure | Destination::Program | Destination::Key => false,
    }
}

/// Every address of a track but keys, with its values.
fn addresses(track: &Track) -> BTreeMap<ChannelAddress, SentValues> {
    let mut all: BTreeMap<ChannelAddress, SentValues> = BTreeMap::new();
    for event in &track.events {
        let Some(message) = event.message() else { continue };
        let (destination, value) = Destination::of(message);
        all.entry((message.channel(), destination)).or_default().0.push((event.tick, value));
    }
    all
}

fn is_note(message: Message) -> bool {
    matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. })
}

fn punch_track(old: &Track, new: &Track, region: Region, seams: &Seams) -> Track {
    let staying = notes::staying(old, region);
    let (from, to) = (addresses(old), addresses(new));
    // What the new take never sends stays the old one's.
    let is_alone =
        |message: Message| !to.contains_key(&(message.channel(), Destination::of(message).0));
    let is_word = |event: &TrackEvent| WORDS.iter().any(|kind| event.meta(*kind).is_some());
    let stays = |(place, event): &(usize, &TrackEvent)| {
        !region.holds(event.tick)
            || match event.message() {
                Some(message) if is_note(message) => staying.contains(place),
                Some(message) => is_alone(message),
                None => !is_word(event),
            }
    };
    let mut events: Vec<TrackEvent> =
        old.events.iter().enumerate().filter(stays).map(|(_, event)| event.clone()).collect();
    let none = SentValues::default();
    let mut last: Vec<TrackEvent> = Vec::new();
    for (&address, new) in &to {
        let (channel, destination) = address;
        let old = from.get(&address).unwrap_or(&none);
        let event = |(tick, value): (u64, u16)| {
            Some(TrackEvent { tick, bytes: message(destination, channel, value)?.into() })
        };
        if is_gliding(destination) {
            events.extend(glide(destination, old, new, seams).into_iter().filter_map(event));
        } else if is_held(destination) {
            // It is as the new take has it inside, and as the old one has it behind.
            let (begins, ends) = (new.before(region.start), new.before(region.end));
            let (first, back) = (old.before(region.start), old.before(region.end));
            let value = begins.filter(|value| first != Some(*value));
            events.extend(value.and_then(|value| event((region.start, value))));
            let value = back.filter(|value| ends.or(first) != Some(*value));
            let value = value.filter(|_| seams.going.is_some());
            last.extend(value.and_then(|value| event((region.end - 1, value))));
        }
    }
    let direct = new.events.iter().filter(|event| region.holds(event.tick));
    let direct = direct.filter(|event| match event.message() {
        Some(message) => !is_note(message) && !is_gliding(Destination::of(message).0),
        None => is_word(event),
    });
    events.extend(direct.cloned());
    events.extend(notes::coming(new, region));
    events.extend(last);
    // Stable: at one tick the old take's own, then controllers, then notes.
    events.sort_by_key(|event| event.tick);
    let last_tick = events.last().map_or(0, |event| event.tick);
    let end_tick = match region.end > old.end_tick {
        true => new.end_tick.min(region.end),
        false => old.end_tick,
    };
    Track { events, end_tick: end_tick.max(last_tick) }
}

/// Switches, banks and programs hold until the next; sequences of parametre numbers do not.
fn is_held(destination: Destination) -> bool {
    match destination {
        Destination::Program => true,
        Destination::Controller(number) => destination.is_lasting() && number <= CONTROLLER_MAX,
        _ => false,
    }
}
