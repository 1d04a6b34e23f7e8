//! One event of a track: when it happens, and its bytes exactly as the file has them.

use super::quantity;
use crate::engine::event::Message;

/// The bytes of an event with its status in front, also where the file leaves it out.
/// Channel messages stay inside, longer events have a place of their own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Bytes {
    /// A channel message: three bytes and how many of them count.
    Short([u8; 3], u8),
    /// Anything else.
    Long(Box<[u8]>),
}

impl std::ops::Deref for Bytes {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        match self {
            Bytes::Short(bytes, count) => &bytes[..usize::from(*count)],
            Bytes::Long(bytes) => bytes,
        }
    }
}

impl From<&[u8]> for Bytes {
    fn from(bytes: &[u8]) -> Bytes {
        match *bytes {
            [one, two] => Bytes::Short([one, two, 0], 2),
            [one, two, three] => Bytes::Short([one, two, three], 3),
            _ => Bytes::Long(bytes.into()),
        }
    }
}

impl From<Message> for Bytes {
    fn from(message: Message) -> Bytes {
        let (bytes, count) = message.bytes();
        Bytes::Short(bytes, count as u8)
    }
}

/// Something that happens in a track.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Ticks since the start of the file.
    pub tick: u64,
    /// What happens.
    pub bytes: Bytes,
}

impl Event {
    /// The channel message, if it is one.
    pub fn message(&self) -> Option<Message> {
        match self.bytes[0] {
            0x80..=0xEF => Message::from_bytes(&self.bytes),
            _ => None,
        }
    }

    /// The contents of a meta event of this kind.
    pub fn meta(&self, kind: u8) -> Option<&[u8]> {
        let contents = self.bytes.strip_prefix(&[0xFF, kind])?;
        quantity::read(contents).map(|(_, size)| &contents[size..])
    }
}

/// A meta event's bytes. `contents` is shorter than a variable-length quantity can say.
pub fn meta_bytes(kind: u8, contents: &[u8]) -> Bytes {
    let mut bytes = meta_start(kind, contents.len());
    bytes.extend_from_slice(contents);
    Bytes::Long(bytes.into())
}

/// The start of a meta event whose contents have `length` bytes, with room for exactly those.
pub fn meta_start(kind: u8, length: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(2 + quantity::size(length as u64) + length);
    bytes.extend_from_slice(&[0xFF, kind]);
    quantity::write(length as u64, &mut bytes);
    bytes
}
