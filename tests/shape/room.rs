//! A room to shape takes in: takes from words, and the promises that every shaped file keeps.

use polso::engine::Message;
use polso::engine::patch::Source;
use polso::offline::midi::{Division, File, Track, TrackEvent, read::read, write::write};
use polso::offline::peel::peel;
use polso::offline::take::line::{self, TakeLine};
use polso::offline::trace::trace_bytes;
use polso::offline::{Provenance, Settings, record};
use polso::profile::{Instrument, Target, hand_for, load, patch};

/// 480 ticks of a quarter note.
pub const QUARTER: Division = Division::Quarter(480);

/// A wheel that rises and falls under two joined notes, a rest and a long last note, on channel 1.
pub const LINE: &str = "0 FF0304 65726875, 0 C06E, 0 B00100, 0 903C50, 60 B00120, 120 B00140,\
    240 B00150, 480 903E50, 490 803C40, 600 B00160, 960 803E40, 1440 904050, 1500 B00150,\
    1800 B00140, 2400 B00130, 2880 804040";

/// Settings of a shipped instrument and target and a wheel on controller 1.
pub fn settings(instrument: &str, target: &str) -> Settings {
    let instrument = load::<Instrument>(instrument).unwrap().profile;
    let target = load::<Target>(target).unwrap().profile;
    let hand = hand_for(Source::Controller(1)).unwrap().profile;
    let styles = instrument.vibrato.styles.iter().map(|style| style.name.clone()).collect();
    Settings {
        patch: patch(&instrument, &target, &hand, 7, 1.0).unwrap(),
        styles,
        provenance: Provenance {
            instrument: "erhu 0123456789abcdef".into(),
            target: "generic 0123456789abcdef".into(),
            hand: "my-hand 0123456789abcdef".into(),
            wishes: None,
        },
        imperfection: 1.0,
        tracks: Vec::new(),
        channels: Vec::new(),
        bars: None,
        wishes: Default::default(),
        is_forced: false,
    }
}

/// What `trace` says of a take: its rows, and what the user should know.
pub fn traced(take: &[u8], settings: &Settings, every_ms: u32) -> (String, Vec<String>) {
    let mut csv = String::new();
    let traced = trace_bytes(take, settings, every_ms, |row| {
        csv.push_str(row);
        Ok::<(), ()>(())
    });
    (csv, traced.unwrap().notices)
}

/// A file from words: one text for each track, events divided by commas, each a tick and
/// hexadecimal bytes ("480 903C40").
pub fn take(division: Division, tracks: &[&str]) -> Vec<u8> {
    file(division, tracks.iter().map(|text| track(text)).collect())
}

/// A track from words.
pub fn track(text: &str) -> Track {
    let event = |text: &str| {
        let (tick, digits) = text.trim().split_once(' ').expect("a tick and bytes");
        let digits: Vec<u8> = digits.bytes().filter(|byte| *byte != b' ').collect();
        let byte = |two: &[u8]| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap();
        let bytes: Vec<u8> = digits.chunks(2).map(byte).collect();
        TrackEvent { tick: tick.parse().unwrap(), bytes: bytes.as_slice().into() }
    };
    let events: Vec<TrackEvent> =
        text.split(',').filter(|part| !part.trim().is_empty()).map(event).collect();
    let end_tick = events.last().map_or(0, |event| event.tick);
    Track { events, end_tick }
}

/// A file of these tracks.
pub fn file(division: Division, tracks: Vec<Track>) -> Vec<u8> {
    let format = 1;
    let (header_rest, foreign, tail) = (Vec::new(), Vec::new(), Vec::new());
    write(&File { format, division, header_rest, tracks, foreign, tail }).unwrap()
}

/// The events of a track in words: a tick and hexadecimal bytes; without the records.
pub fn words(track: &Track) -> Vec<String> {
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02X}")).collect::<String>();
    let visible = track.events.iter().filter(|event| !is_ours(event));
    visible.map(|event| format!("{} {}", event.tick, hex(&event.bytes))).collect()
}

/// A record or a marker of ours.
pub fn is_ours(event: &TrackEvent) -> bool {
    record::ShapeRecord::of(event).is_some() || record::marker_text(event).is_some()
}

/// Every promise of a shaped file (DESIGN: notes, the verb `shape`), or what is broken.
pub fn promises(original: &[u8], shaped: &[u8], settings: &Settings) -> Result<(), String> {
    let original = read(original).map_err(|error| format!("the take: {error}"))?;
    let shaped = read(shaped).map_err(|error| format!("the shaped file: {error}"))?;
    let source = settings.patch.hand.source;
    let choice = line::choose(&original, source, &settings.tracks, &settings.channels)
        .map_err(|it| it.to_string())?;
    let factor = original.division.factor();
    if shaped.division != original.division.finer(factor) {
        return Err("the ticks are not finer by a whole factor".into());
    }
    for (number, (before, after)) in original.tracks.iter().zip(&shaped.tracks).enumerate() {
        untouched(before, after, number, &choice.lines, factor)?;
        for line in choice.lines.iter().filter(|line| line.track == number) {
            note_ons_in_place(before, after, line.channel, factor)?;
            alternates(after, line.channel)?;
        }
    }
    let peeled = peel(shaped).map_err(|error| error.to_string())?;
    if !peeled.leftovers.is_empty() {
        return Err(format!("peeling leaves {:?}", peeled.leftovers));
    }
    (peeled.file == original).then_some(()).ok_or_else(|| "peeling gives another take".into())
}

/// What the engine never hears keeps its tick, order and bytes.
fn untouched(
    before: &Track,
    after: &Track,
    number: usize,
    lines: &[TakeLine],
    factor: u64,
) -> Result<(), String> {
    let is_heard = |event: &TrackEvent| {
        let channel = event.message().map(Message::channel);
        let mut own = lines.iter().filter(|it| it.track == number || it.gesture_track == number);
        own.any(|line| Some(line.channel) == channel)
    };
    let before = before.events.iter().filter(|event| !is_heard(event));
    let after = after.events.iter().filter(|event| !is_heard(event) && !is_ours(event));
    let before = before.map(|event| (event.tick * factor, &event.bytes));
    match before.eq(after.map(|event| (event.tick, &event.bytes))) {
        true => Ok(()),
        false => Err(format!("track {}: something untouched is not as it was", number + 1)),
    }
}

/// Every note-on stays where it was; one more is a key that is down, struck again by a join back.
fn note_ons_in_place(
    before: &Track,
    after: &Track,
    channel: u8,
    factor: u64,
) -> Result<(), String> {
    let ons = |track: &Track, factor: u64| {
        let on = |event: &TrackEvent| match event.message() {
            Some(Message::NoteOn { channel: own, key, .. }) if own == channel => {
                Some((event.tick * factor, key))
            }
            _ => None,
        };
        let mut ons: Vec<(u64, u8)> = track.events.iter().filter_map(on).collect();
        ons.sort();
        ons
    };
    let spans = spans(before, channel, factor);
    let (before, after) = (ons(before, factor), ons(after, 1));
    let mut left = before.iter().peekable();
    let more: Vec<(u64, u8)> =
        after.iter().copied().filter(|on| left.next_if(|own| *own == on).is_none()).collect();
    let is_down = |(tick, key): &(u64, u8)| {
        spans.iter().any(|(own, down, up)| own == key && down <= tick && tick <= up)
    };
    match left.next().is_none() && more.iter().all(is_down) {
        true => Ok(()),
        false => Err(format!("note-ons were {before:?} and are {after:?}")),
    }
}

/// Each strike of a key, from when to when it is down: first in, first out.
fn spans(track: &Track, channel: u8, factor: u64) -> Vec<(u8, u64, u64)> {
    let mut spans: Vec<(u8, u64, Option<u64>)> = Vec::new();
    for event in &track.events {
        match event.message() {
            Some(Message::NoteOn { channel: own, key, .. }) if own == channel => {
                spans.push((key, event.tick * factor, None));
            }
            Some(Message::NoteOff { channel: own, key, .. }) if own == channel => {
                let open = spans.iter_mut().find(|span| span.0 == key && span.2.is_none());
                open.into_iter().for_each(|span| span.2 = Some(event.tick * factor));
            }
            _ => {}
        }
    }
    let end = track.end_tick * factor;
    spans.into_iter().map(|(key, down, up)| (key, down, up.unwrap_or(end))).collect()
}

/// On and off strictly alternate for each key, and the last is an off.
fn alternates(track: &Track, channel: u8) -> Result<(), String> {
    let mut is_on = [false; 128];
    for event in &track.events {
        let (key, strikes) = match event.message() {
            Some(Message::NoteOn { channel: own, key, .. }) if own == channel => (key, true),
            Some(Message::NoteOff { channel: own, key, .. }) if own == channel => (key, false),
            _ => continue,
        };
        if is_on[usize::from(key)] == strikes {
            let word = if strikes { "on" } else { "off" };
            return Err(format!("tick {}: a second {word} of key {key}", event.tick));
        }
        is_on[usize::from(key)] = strikes;
    }
    match is_on.iter().position(|is_on| *is_on) {
        Some(key) => Err(format!("key {key} stays on")),
        None => Ok(()),
    }
}
