//! Numbers of one to four bytes, as MIDI files write times and lengths.

/// The largest number that four bytes hold (SMF 1.0).
pub const QUANTITY_MAX: u64 = 0x0FFF_FFFF;

/// Reads a number and says how many bytes it takes; `None` if it is cut off or longer than four.
pub fn read(bytes: &[u8]) -> Option<(u64, usize)> {
    let mut value = 0;
    for (place, &byte) in bytes.iter().take(4).enumerate() {
        value = value << 7 | u64::from(byte & 0x7F);
        if byte < 0x80 {
            return Some((value, place + 1));
        }
    }
    None
}

/// How many bytes a number takes.
pub fn size(value: u64) -> usize {
    1 + [7, 14, 21].iter().filter(|shift| value >> **shift != 0).count()
}

/// Writes a number, at most [`QUANTITY_MAX`], in as few bytes as it takes.
pub fn write(value: u64, to: &mut Vec<u8>) {
    debug_assert!(value <= QUANTITY_MAX);
    for shift in [21, 14, 7] {
        if value >> shift != 0 {
            to.push(0x80 | (value >> shift) as u8 & 0x7F);
        }
    }
    to.push(value as u8 & 0x7F);
}
