//! Writes a MIDI file: the bytes of every event as they are, and repeated statuses left out.

use super::file::{Division, File, Track};
use super::quantity::{self, QUANTITY_MAX};
use crate::offline::error::Error;

/// The file as bytes. Running status is used where the standard allows it, so that a strict
/// reader and a compressing writer give the same bytes back.
///
/// # Errors
/// [`Error::Midi`] if two events stand further apart than the format can say.
pub fn write(file: &File) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    bytes.extend_from_slice(b"MThd");
    bytes.extend_from_slice(&(6 + file.header_rest.len() as u32).to_be_bytes());
    bytes.extend_from_slice(&file.format.to_be_bytes());
    bytes.extend_from_slice(&(file.tracks.len() as u16).to_be_bytes());
    bytes.extend_from_slice(&division_word(file.division).to_be_bytes());
    bytes.extend_from_slice(&file.header_rest);
    let mut foreign = file.foreign.iter().peekable();
    for (before_count, track) in file.tracks.iter().enumerate() {
        while let Some(chunk) = foreign.next_if(|chunk| chunk.after_track_count <= before_count) {
            bytes.extend_from_slice(&chunk.bytes);
        }
        write_track(track, before_count + 1, &mut bytes)?;
    }
    foreign.for_each(|chunk| bytes.extend_from_slice(&chunk.bytes));
    bytes.extend_from_slice(&file.tail);
    Ok(bytes)
}

fn division_word(division: Division) -> u16 {
    match division {
        Division::Quarter(ticks) => ticks,
        Division::Frame { frames_per_s, ticks } => {
            u16::from_be_bytes([frames_per_s.wrapping_neg(), ticks])
        }
    }
}

fn write_track(track: &Track, number: usize, bytes: &mut Vec<u8>) -> Result<(), Error> {
    bytes.reserve(track.events.len() * 4);
    bytes.extend_from_slice(b"MTrk\0\0\0\0");
    let start = bytes.len();
    let mut last_tick = 0;
    let mut status = 0;
    for event in &track.events {
        write_time(event.tick - last_tick, number, bytes)?;
        last_tick = event.tick;
        // Only channel messages may leave their status out; all else cancels it (SMF 1.0).
        match event.bytes[0] {
            repeated @ 0x80..=0xEF if repeated == status => {
                bytes.extend_from_slice(&event.bytes[1..]);
            }
            first => {
                bytes.extend_from_slice(&event.bytes);
                status = if first < 0xF0 { first } else { 0 };
            }
        }
    }
    write_time(track.end_tick.max(last_tick) - last_tick, number, bytes)?;
    bytes.extend_from_slice(&[0xFF, 0x2F, 0]);
    let length = bytes.len() - start;
    let length = u32::try_from(length)
        .map_err(|_| Error::midi_track(number, start, "the track grows beyond 4 GiB"))?;
    bytes[start - 4..start].copy_from_slice(&length.to_be_bytes());
    Ok(())
}

fn write_time(ticks: u64, number: usize, bytes: &mut Vec<u8>) -> Result<(), Error> {
    if ticks > QUANTITY_MAX {
        let what = format!(
            "two events would stand {ticks} ticks apart in the new file; allowed is {QUANTITY_MAX}"
        );
        return Err(Error::midi_track(number, bytes.len(), what));
    }
    quantity::write(ticks, bytes);
    Ok(())
}
