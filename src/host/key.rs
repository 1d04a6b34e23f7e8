//! Keys and channels that cannot be wrong, whatever a host says.

use crate::engine::input::message::{CHANNEL_COUNT, KEY_COUNT};

/// A key of MIDI 1.0, 0..=127; 60 is C4. Any thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key(u8);

impl Key {
    /// `None` above 127.
    pub const fn new(number: u8) -> Option<Key> {
        if (number as usize) < KEY_COUNT { Some(Key(number)) } else { None }
    }

    /// 0..=127.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place among all keys, 0..=127.
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

/// A channel of MIDI 1.0, counted from 0: 0..=15. Any thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Channel(u8);

impl Channel {
    /// The one that is meant where none is named.
    pub const FIRST: Channel = Channel(0);

    /// `None` above 15.
    pub const fn new(number: u8) -> Option<Channel> {
        if (number as usize) < CHANNEL_COUNT { Some(Channel(number)) } else { None }
    }

    /// 0..=15.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place among all channels, 0..=15.
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}
