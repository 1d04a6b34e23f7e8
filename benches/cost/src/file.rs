//! The takes that are compared as files, and a reader and writer that does nothing to them.

use std::fs;

use midly::num::{u4, u7, u15, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

const TICKS_PER_BEAT: u16 = 960;
/// At 120 beats a minute, as a file without a tempo has it.
const TICKS_PER_S: f64 = 2.0 * TICKS_PER_BEAT as f64;
/// Ticks from one poll of the wheel to the next, of a note's beginning to the next, and its length.
const POLL_TICKS: u64 = 15;
const NOTE_TICKS: u64 = 960;
const HELD_TICKS: u64 = 1000;
/// The wheel moves alone for the time of so many notes: styles that come from rest have arrived.
const FIRST_NOTE: u64 = 4;
/// Notes of a phrase, and of a phrase with the rest after it.
const PHRASE_NOTES: u64 = 16;
const PHRASE_AND_REST_NOTES: u64 = 18;
/// The wheel swings between 21 and 127, so low that the vibrato ends and no sound does, and so
/// slowly that no limit on the speed of a layer is reached.
const WHEEL_MIDDLE: f64 = 74.0;
const WHEEL_HALF: f64 = 53.0;
const WHEEL_RADIANS_PER_S: f64 = 0.9;
const KEYS: [u8; 8] = [69, 74, 72, 77, 76, 79, 71, 67];

/// Reads a file and writes it again.
pub fn copy(from: &str, to: &str) -> Result<(), String> {
    let bytes = fs::read(from).map_err(|error| format!("{from}: {error}"))?;
    let file = Smf::parse(&bytes).map_err(|error| format!("{from}: {error}"))?;
    file.save(to).map_err(|error| format!("{to}: {error}"))
}

/// A wheel that moves all the time over phrases of slurred notes, two a second, on every track.
pub fn write_take(seconds: u64, tracks: &str, to: &str) -> Result<(), String> {
    let count = tracks.parse().ok().filter(|count| (1..=16).contains(count));
    let count: u8 = count.ok_or_else(|| format!("TRACKS is {tracks}; allowed is 1 to 16"))?;
    let header = Header::new(Format::Parallel, Timing::Metrical(u15::new(TICKS_PER_BEAT)));
    let mut file = Smf::new(header);
    file.tracks = (0..count).map(|channel| track(channel, seconds)).collect();
    file.save(to).map_err(|error| format!("{to}: {error}"))
}

fn track(channel: u8, seconds: u64) -> Vec<TrackEvent<'static>> {
    let end = seconds * TICKS_PER_S as u64;
    let mut events: Vec<(u64, MidiMessage)> = Vec::new();
    let mut last = None;
    for tick in (0..end).step_by(POLL_TICKS as usize) {
        let at_s = tick as f64 / TICKS_PER_S + f64::from(channel);
        let swing = libm::cos(WHEEL_RADIANS_PER_S * at_s);
        let value = libm::round(WHEEL_MIDDLE - WHEEL_HALF * swing) as u8;
        if last != Some(value) {
            last = Some(value);
            events.push((
                tick,
                MidiMessage::Controller { controller: u7::new(1), value: u7::new(value) },
            ));
        }
    }
    for (note, key) in (0..end / NOTE_TICKS - 1).zip(KEYS.into_iter().cycle()) {
        if note < FIRST_NOTE || note % PHRASE_AND_REST_NOTES >= PHRASE_NOTES {
            continue;
        }
        let (key, vel) = (u7::new(key), u7::new(90));
        let tick = note * NOTE_TICKS;
        events.push((tick, MidiMessage::NoteOn { key, vel }));
        events.push((tick + HELD_TICKS, MidiMessage::NoteOff { key, vel }));
    }
    events.sort_by_key(|(tick, _)| *tick);
    let mut last = 0;
    let mut track: Vec<TrackEvent<'static>> = Vec::with_capacity(events.len() + 1);
    for (tick, message) in events {
        let kind = TrackEventKind::Midi { channel: u4::new(channel), message };
        track.push(TrackEvent { delta: u28::new((tick - last) as u32), kind });
        last = tick;
    }
    let kind = TrackEventKind::Meta(MetaMessage::EndOfTrack);
    track.push(TrackEvent { delta: u28::new(0), kind });
    track
}
