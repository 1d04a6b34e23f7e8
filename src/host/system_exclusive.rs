//! A system exclusive message, which passes to the receiver as it came.

use nice_plug::prelude::SysExMessage;

/// The longest that passes, bytes. Resets, volume, scale tunings and the tuning of twelve notes at
/// once are shorter; dumps of whole memories are not, and belong on a wire of their own.
pub const EXCLUSIVE_BYTES_MAX: usize = 64;
/// MIDI 1.0: how one begins.
const BEGIN: u8 = 0xF0;
/// MIDI 1.0: how one ends.
const END: u8 = 0xF7;
/// MIDI 1.0: from here up a byte is a status, and none stands inside.
const STATUS_MIN: u8 = 0x80;

/// One message, from its first byte to its last. Any thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SystemExclusive {
    bytes: [u8; EXCLUSIVE_BYTES_MAX],
    length: usize,
}

impl SysExMessage for SystemExclusive {
    type Buffer = [u8; EXCLUSIVE_BYTES_MAX];

    fn from_buffer(buffer: &[u8]) -> Option<SystemExclusive> {
        let is_data = |byte: &u8| *byte < STATUS_MIN;
        let is_whole = matches!(buffer, [BEGIN, data @ .., END] if data.iter().all(is_data));
        let length = buffer.len();
        if !is_whole || length > EXCLUSIVE_BYTES_MAX {
            return None;
        }
        let mut bytes = [0; EXCLUSIVE_BYTES_MAX];
        bytes[..length].copy_from_slice(buffer);
        Some(SystemExclusive { bytes, length })
    }

    fn as_buffer(&self) -> (Self::Buffer, usize) {
        (self.bytes, self.length)
    }
}
