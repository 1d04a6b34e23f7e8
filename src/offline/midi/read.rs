//! Reads a MIDI file and keeps everything in it, or says where it cannot.

use midly::{EventBytemapIter, TrackEventKind};

use super::event::{Bytes, TrackEvent};
use super::file::{Division, EVENT_COUNT_MAX, FILE_BYTES_MAX, File, Foreign, Track};
use super::quantity;
use crate::offline::error::Error;

const CHUNK_HEAD_BYTES: usize = 8; // a name of four bytes and a length of four
const HEADER_BYTES_MIN: usize = 6;
const END_OF_TRACK: u8 = 0x2F;

/// Reads a file of format 0 or 1.
///
/// # Errors
/// [`Error::Midi`] names the byte (counted from 0) and, inside a track, the track (from 1).
pub fn read(bytes: &[u8]) -> Result<File, Error> {
    if bytes.len() > FILE_BYTES_MAX {
        return Err(Error::TooLarge { size: bytes.len(), size_max: FILE_BYTES_MAX });
    }
    let (mut file, track_count, mut place) = header(bytes)?;
    let mut event_count = 0;
    while place < bytes.len() {
        let (name, end) = match chunk(bytes, place) {
            Some(chunk) => chunk,
            None if bytes[place..].starts_with(b"MTrk") => {
                return Err(Error::midi(place, "the file ends before this track does"));
            }
            None => break,
        };
        match name {
            b"MTrk" => {
                let number = file.tracks.len() + 1;
                let track = track(bytes, place + CHUNK_HEAD_BYTES, end, number, &mut event_count)?;
                file.tracks.push(track);
            }
            b"MThd" => return Err(Error::midi(place, "a second header stands here")),
            _ => file.foreign.push(Foreign {
                after_track_count: file.tracks.len(),
                bytes: bytes[place..end].to_vec(),
            }),
        }
        place = end;
    }
    file.tail = bytes[place..].to_vec();
    check_track_count(&file, track_count)?;
    Ok(file)
}

/// The header, how many tracks it promises, and where it ends.
fn header(bytes: &[u8]) -> Result<(File, usize, usize), Error> {
    if !bytes.starts_with(b"MThd") {
        return Err(Error::midi(0, "this is not a MIDI file: it does not begin with `MThd`"));
    }
    let end = match chunk(bytes, 0) {
        Some((_, end)) if end >= CHUNK_HEAD_BYTES + HEADER_BYTES_MIN => end,
        _ => return Err(Error::midi(4, "the header is cut off")),
    };
    let word = |place: usize| u16::from_be_bytes([bytes[place], bytes[place + 1]]);
    let format = match word(8) {
        format @ (0 | 1) => format,
        2 => return Err(Error::midi(8, "format 2 holds separate songs; allowed is 0 or 1")),
        format => return Err(Error::midi(8, format!("format is {format}; allowed is 0 or 1"))),
    };
    let file = File {
        format,
        division: division(word(12))?,
        header_rest: bytes[CHUNK_HEAD_BYTES + HEADER_BYTES_MIN..end].to_vec(),
        tracks: Vec::new(),
        foreign: Vec::new(),
        tail: Vec::new(),
    };
    Ok((file, word(10).into(), end))
}

fn division(word: u16) -> Result<Division, Error> {
    let [high, ticks] = word.to_be_bytes();
    if high < 0x80 {
        return match word {
            0 => Err(Error::midi(12, "a quarter note has 0 ticks; allowed is 1 to 32767")),
            ticks => Ok(Division::Quarter(ticks)),
        };
    }
    let frames_per_s = high.wrapping_neg();
    if !matches!(frames_per_s, 24 | 25 | 29 | 30) || ticks == 0 {
        let what = format!(
            "{frames_per_s} frames a second of {ticks} ticks; allowed is 24, 25, 29 or 30 \
             frames of 1 to 255 ticks"
        );
        return Err(Error::midi(12, what));
    }
    Ok(Division::Frame { frames_per_s, ticks })
}

/// A chunk's name and end; `None` if the file ends before it does.
fn chunk(bytes: &[u8], place: usize) -> Option<(&[u8], usize)> {
    let head = bytes.get(place..place + CHUNK_HEAD_BYTES)?;
    let length = u32::from_be_bytes([head[4], head[5], head[6], head[7]]) as usize;
    let end = place + CHUNK_HEAD_BYTES + length;
    (end <= bytes.len()).then_some((&head[..4], end))
}

fn check_track_count(file: &File, promised: usize) -> Result<(), Error> {
    let count = file.tracks.len();
    if count < promised {
        let what = format!("the header promises {promised} tracks; the file holds {count}");
        return Err(Error::midi(10, what));
    }
    if count == 0 {
        return Err(Error::midi(10, "the file has no tracks"));
    }
    if file.format == 0 && count > 1 {
        let what = format!("a file of format 0 has one track; this one holds {count}");
        return Err(Error::midi(10, what));
    }
    Ok(())
}

/// One track, its contents at `start..end`. A track that does not say where it ends, ends with
/// its last event.
fn track(
    bytes: &[u8],
    start: usize,
    end: usize,
    number: usize,
    event_count: &mut usize,
) -> Result<Track, Error> {
    let contents = &bytes[start..end];
    let mut events = EventBytemapIter::new(contents);
    let mut track = Track::default();
    let mut status = 0;
    loop {
        let rest = events.unread();
        let place = end - rest.len();
        let fault = |what: &str| Error::midi_track(number, place, what);
        if rest.is_empty() {
            return Ok(track);
        }
        let (delta, delta_size) =
            quantity::read(rest).ok_or_else(|| fault("the time of an event is malformed"))?;
        // midly leaves a track in silence where it cannot go on; here that is an error.
        let (raw, event) = match events.next() {
            Some(Ok(event)) => event,
            _ => return Err(fault("what stands here is not an event")),
        };
        if rest.len() - events.unread().len() != delta_size + raw.len() {
            return Err(fault("the time of an event is malformed"));
        }
        let event_bytes = whole(raw, &event.kind, &mut status).map_err(fault)?;
        track.end_tick += delta;
        if event_bytes[0] == 0xFF && event_bytes[1] == END_OF_TRACK {
            return match events.unread().len() {
                0 => Ok(track),
                count => Err(fault(&format!("{count} bytes follow the end of the track"))),
            };
        }
        *event_count += 1;
        if *event_count > EVENT_COUNT_MAX {
            return Err(Error::TooManyEvents { count_max: EVENT_COUNT_MAX });
        }
        track.events.push(TrackEvent { tick: track.end_tick, bytes: event_bytes });
    }
}

/// The bytes of an event with its status, once they are known to be what midly took them for: it
/// shortens lengths without a word.
fn whole(raw: &[u8], kind: &TrackEventKind, status: &mut u8) -> Result<Bytes, &'static str> {
    let length_at = match kind {
        TrackEventKind::Midi { .. } => {
            let data = if raw[0] < 0x80 { raw } else { &raw[1..] };
            if raw[0] >= 0x80 {
                *status = raw[0];
            }
            let mut bytes = [*status, 0, 0];
            bytes[1..=data.len()].copy_from_slice(data);
            return Ok(Bytes::Short(bytes, data.len() as u8 + 1));
        }
        TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => 1,
        TrackEventKind::Meta(_) => 2,
    };
    let rest = raw.get(length_at..).unwrap_or_default();
    match quantity::read(rest) {
        Some((length, size)) if rest.len() as u64 == size as u64 + length => Ok(raw.into()),
        Some(_) => Err("the track ends before this event does"),
        None => Err("the length of an event is malformed"),
    }
}
