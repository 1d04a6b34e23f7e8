//! A few digits that stand for a whole take, so that the way back to it can be shown to be exact.

use std::fmt::Write;

use sha2::{Digest, Sha256};

use super::midi::{Division, File};

/// A tick as it goes into the hash.
const TICK_BYTES: usize = size_of::<u64>();

/// The first 16 hexadecimal digits of a text's SHA-256.
pub fn of_text(text: &str) -> String {
    digits(Sha256::digest(text.as_bytes()).as_slice())
}

/// The same of all that a file says: its header, every event with its tick and bytes, other
/// chunks. How the file spells delta times and repeated statuses does not count.
pub fn of_take(file: &File) -> String {
    let File { format, division, header_rest, tracks, foreign, tail } = file;
    let mut hash = Sha256::new();
    let part = |hash: &mut Sha256, bytes: &[u8]| {
        hash.update((bytes.len() as u64).to_le_bytes());
        hash.update(bytes);
    };
    let division = match *division {
        Division::Quarter(ticks) => u32::from(ticks),
        Division::Frame { frames_per_s, ticks } => {
            1 << 16 | u32::from(frames_per_s) << 8 | u32::from(ticks)
        }
    };
    part(&mut hash, &[&format.to_le_bytes()[..], &division.to_le_bytes()].concat());
    part(&mut hash, header_rest);
    for track in tracks {
        let size: usize = track.events.iter().map(|event| TICK_BYTES + event.bytes.len()).sum();
        hash.update(((size + TICK_BYTES) as u64).to_le_bytes());
        for event in &track.events {
            hash.update(event.tick.to_le_bytes());
            hash.update(&event.bytes[..]);
        }
        hash.update(track.end_tick.to_le_bytes());
    }
    for chunk in foreign {
        part(&mut hash, &(chunk.after_track_count as u64).to_le_bytes());
        part(&mut hash, &chunk.bytes);
    }
    part(&mut hash, tail);
    digits(hash.finalize().as_slice())
}

fn digits(hash: &[u8]) -> String {
    let mut digits = String::new();
    for byte in &hash[..8] {
        // A string takes everything that is written to it.
        write!(digits, "{byte:02x}").unwrap_or_default();
    }
    digits
}
