//! What has gone out: keys that sound at the receiver, so that on and off always alternate.

use super::event::{BEND_CENTRE, CHANNEL_COUNT, Layer, Message, Origin, Sink};

/// Remembers what sounds at the receiver.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wire {
    sounding: [u128; CHANNEL_COUNT],
    /// Bit n is set while a layer's bend is off the centre on channel n.
    bent_channels: u16,
    dropped_messages: u64,
}

impl Wire {
    /// Nothing has gone out.
    pub const SILENT: Wire =
        Wire { sounding: [0; CHANNEL_COUNT], bent_channels: 0, dropped_messages: 0 };

    /// Something sounds at the receiver.
    pub fn is_sounding(&self) -> bool {
        self.sounding.iter().any(|keys| *keys != 0)
    }

    /// Forgets what was lost, not what sounds.
    pub fn forgive(&mut self) {
        self.dropped_messages = 0;
    }

    /// Messages that the sink had no room for.
    pub fn dropped_messages(&self) -> u64 {
        self.dropped_messages
    }
}

/// The way out at one frame.
pub struct Way<'a, S: Sink> {
    /// Frame of the present block.
    pub frame: u32,
    /// What sounds.
    pub wire: &'a mut Wire,
    /// Where it goes.
    pub sink: &'a mut S,
}

impl<S: Sink> Way<'_, S> {
    /// Sends anything but a note.
    pub fn send(&mut self, message: Message, origin: Origin) {
        if let (Message::PitchBend { channel, value }, Origin::Layer(_)) = (message, origin) {
            self.wire.bent_channels &= !(1 << channel);
            self.wire.bent_channels |= u16::from(value != BEND_CENTRE) << channel;
        }
        if !self.sink.send(self.frame, message, origin) {
            self.wire.dropped_messages += 1;
        }
    }

    /// Strikes a key, after the off of what it still sounds.
    pub fn note_on(&mut self, channel: u8, key: u8, velocity: u8, origin: Origin) {
        self.note_off(channel, key, 64, origin);
        self.wire.sounding[usize::from(channel)] |= 1 << key;
        self.send(Message::NoteOn { channel, key, velocity }, origin);
    }

    /// Releases a key, if it sounds.
    pub fn note_off(&mut self, channel: u8, key: u8, velocity: u8, origin: Origin) {
        let keys = &mut self.wire.sounding[usize::from(channel)];
        if *keys >> key & 1 == 1 {
            *keys &= !(1 << key);
            self.send(Message::NoteOff { channel, key, velocity }, origin);
        }
    }

    /// The off of everything that still sounds, and every bend of ours centred.
    pub fn close_all(&mut self) {
        for channel in 0..CHANNEL_COUNT as u8 {
            let mut keys = self.wire.sounding[usize::from(channel)];
            while keys != 0 {
                self.note_off(channel, keys.trailing_zeros() as u8, 64, Origin::Owed);
                keys &= keys - 1;
            }
            if self.wire.bent_channels >> channel & 1 == 1 {
                self.centre(channel);
            }
        }
    }

    /// Sends a controller.
    pub fn controller(&mut self, channel: u8, number: u8, value: u8, layer: Layer) {
        self.send(Message::Controller { channel, number, value }, Origin::Layer(layer));
    }

    /// Centres the bend.
    pub fn centre(&mut self, channel: u8) {
        let message = Message::PitchBend { channel, value: BEND_CENTRE };
        self.send(message, Origin::Layer(Layer::Pitch));
    }
}
