//! What sounds at the receiver: the keys, bends and pedals that have gone out and not come back.

use crate::input::message::{
    CHANNEL_COUNT, RESET_ALL_CONTROLLERS, SUSTAIN_CONTROLLER, SWITCH_ON_MIN,
};
use crate::input::{Channel, Key};

/// A bit for each key of each channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeySet([u128; CHANNEL_COUNT]);

impl KeySet {
    /// No key.
    pub const EMPTY: KeySet = KeySet([0; CHANNEL_COUNT]);

    /// The key is in it.
    pub fn has(&self, channel: Channel, key: Key) -> bool {
        self.0[channel.index()] >> key.number() & 1 == 1
    }

    /// Puts a key in, or takes it out.
    pub fn set(&mut self, channel: Channel, key: Key, is_in: bool) {
        let keys = &mut self.0[channel.index()];
        *keys = *keys & !(1 << key.number()) | u128::from(is_in) << key.number();
    }

    /// There is no key in it.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|keys| *keys == 0)
    }

    /// The keys of one channel, lowest first.
    pub fn keys(&self, channel: Channel) -> impl Iterator<Item = Key> + use<> {
        let mut keys = self.0[channel.index()];
        core::iter::from_fn(move || {
            let lowest = Key::new(keys.trailing_zeros() as u8);
            keys &= keys.wrapping_sub(1);
            lowest
        })
    }

    /// The keys that are in this one and not in the other.
    pub fn without(&self, other: &KeySet) -> KeySet {
        let mut rest = *self;
        for (keys, gone) in rest.0.iter_mut().zip(&other.0) {
            *keys &= !gone;
        }
        rest
    }
}

/// Remembers what sounds at the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounding {
    /// The keys whose on has gone out and whose off has not.
    pub keys: KeySet,
    /// Of those that passed while the line stood aside, the keys that a hand struck.
    pub live: KeySet,
    /// Keys whose off found no room and is still owed.
    pub refused: KeySet,
    /// Some off found no room.
    pub owes_refused: bool,
    /// Bit n is set while a layer's bend is off the centre on channel n.
    bent_channels: u16,
    /// Bit n is set while the pedal is down on channel n.
    pedalled_channels: u16,
    /// Messages that the sink had no room for.
    pub dropped_messages: u64,
}

impl Sounding {
    /// Nothing has gone out.
    pub const SILENT: Sounding = Sounding {
        keys: KeySet::EMPTY,
        live: KeySet::EMPTY,
        refused: KeySet::EMPTY,
        owes_refused: false,
        bent_channels: 0,
        pedalled_channels: 0,
        dropped_messages: 0,
    };

    /// A layer's bend goes out.
    pub fn bend(&mut self, channel: u8, is_off_centre: bool) {
        self.bent_channels &= !(1 << channel);
        self.bent_channels |= u16::from(is_off_centre) << channel;
    }

    /// A layer's bend is off the centre on this channel.
    pub fn is_bent(&self, channel: Channel) -> bool {
        self.bent_channels >> channel.number() & 1 == 1
    }

    /// A controller goes out: the pedal may go down or come up; a reset of all controllers lifts
    /// it (RP-015).
    pub fn controller(&mut self, channel: u8, number: u8, value: u8) {
        let is_down = match number {
            SUSTAIN_CONTROLLER => value >= SWITCH_ON_MIN,
            RESET_ALL_CONTROLLERS => false,
            _ => return,
        };
        self.pedalled_channels &= !(1 << channel);
        self.pedalled_channels |= u16::from(is_down) << channel;
    }

    /// The lowest channel whose pedal is down.
    pub fn pedalled(&self) -> Option<Channel> {
        Channel::new(self.pedalled_channels.trailing_zeros() as u8)
    }
}
