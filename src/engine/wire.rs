//! What has gone out: keys that sound at the receiver, so that on and off always alternate.

use super::echo::Echo;
use super::event::{
    BEND_CENTRE, CHANNEL_COUNT, Layer, Message, Origin, RESET_ALL_CONTROLLERS, SUSTAIN_CONTROLLER,
    SWITCH_ON_MIN, Sink,
};

/// Remembers what sounds at the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    sounding: [u128; CHANNEL_COUNT],
    /// Of those that passed while the line stood aside, the keys that a hand struck.
    live: [u128; CHANNEL_COUNT],
    /// Bit n is set while a layer's bend is off the centre on channel n.
    bent_channels: u16,
    /// Bit n is set while the pedal is down on channel n.
    pedalled_channels: u16,
    dropped_messages: u64,
    /// Some off found no room and is still owed.
    owes_refused: bool,
    /// The keys of those offs.
    refused: [u128; CHANNEL_COUNT],
    /// Messages since the last [`Way::take_count`].
    count: u32,
    /// What may come back.
    pub echo: Echo,
}

impl Wire {
    /// Nothing has gone out.
    pub const SILENT: Wire = Wire {
        sounding: [0; CHANNEL_COUNT],
        live: [0; CHANNEL_COUNT],
        bent_channels: 0,
        pedalled_channels: 0,
        dropped_messages: 0,
        owes_refused: false,
        refused: [0; CHANNEL_COUNT],
        count: 0,
        echo: Echo::SILENT,
    };

    /// Something sounds at the receiver.
    pub fn is_sounding(&self) -> bool {
        self.sounding.iter().any(|keys| *keys != 0)
    }

    /// This key sounds at the receiver.
    fn sounds(&self, channel: u8, key: u8) -> bool {
        self.sounding[usize::from(channel)] >> key & 1 == 1
    }

    /// Says of a key that has just passed whether a hand struck it.
    pub fn mark(&mut self, channel: u8, key: u8, is_live: bool) {
        let keys = &mut self.live[usize::from(channel)];
        *keys = *keys & !(1 << key) | u128::from(is_live) << key;
    }

    /// Some off found no room.
    pub fn owes_refused(&self) -> bool {
        self.owes_refused
    }

    /// Forgets what was lost, not what sounds, nor what stands still.
    pub fn forgive(&mut self) {
        self.dropped_messages = 0;
        self.count = 0;
        self.echo.forget();
    }

    /// The pedal goes down or comes up; a reset of all controllers lifts it (RP-015).
    fn hear(&mut self, channel: u8, number: u8, value: u8) {
        let is_down = match number {
            SUSTAIN_CONTROLLER => value >= SWITCH_ON_MIN,
            RESET_ALL_CONTROLLERS => false,
            _ => return,
        };
        self.pedalled_channels &= !(1 << channel);
        self.pedalled_channels |= u16::from(is_down) << channel;
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
    /// Seconds since the anchor.
    pub now_s: f64,
    /// What sounds.
    pub wire: &'a mut Wire,
    /// Where it goes.
    pub sink: &'a mut S,
}

impl<S: Sink> Way<'_, S> {
    /// How many messages have gone out since this was last asked.
    pub fn take_count(&mut self) -> u32 {
        core::mem::take(&mut self.wire.count)
    }

    /// Sends anything but a note. What stands still is not sent.
    pub fn send(&mut self, message: Message, origin: Origin) {
        if let Origin::Layer(layer) = origin {
            if self.wire.echo.is_frozen(layer) {
                return;
            }
            if !matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. }) {
                self.wire.echo.send(self.now_s, message, layer);
            }
        }
        if let (Message::PitchBend { channel, value }, Origin::Layer(_)) = (message, origin) {
            self.wire.bent_channels &= !(1 << channel);
            self.wire.bent_channels |= u16::from(value != BEND_CENTRE) << channel;
        }
        if let Message::Controller { channel, number, value } = message {
            self.wire.hear(channel, number, value);
        }
        self.finds_room(message, origin);
    }

    fn finds_room(&mut self, message: Message, origin: Origin) -> bool {
        self.wire.count = self.wire.count.saturating_add(1);
        let is_sent = self.sink.send(self.frame, message, origin);
        self.wire.dropped_messages += u64::from(!is_sent);
        is_sent
    }

    /// Strikes a key, after the off of what it still sounds; not if that off found no room.
    pub fn note_on(&mut self, channel: u8, key: u8, velocity: u8, origin: Origin) {
        self.note_off(channel, key, 64, origin);
        if self.wire.sounds(channel, key) {
            self.wire.dropped_messages += 1;
        } else if self.finds_room(Message::NoteOn { channel, key, velocity }, origin) {
            self.wire.sounding[usize::from(channel)] |= 1 << key;
        }
    }

    /// Releases a key, if it sounds. An off that finds no room stays owed.
    pub fn note_off(&mut self, channel: u8, key: u8, velocity: u8, origin: Origin) {
        if !self.wire.sounds(channel, key) {
            return;
        }
        let (place, bit) = (usize::from(channel), 1 << key);
        if self.finds_room(Message::NoteOff { channel, key, velocity }, origin) {
            self.wire.sounding[place] &= !bit;
            self.wire.refused[place] &= !bit;
        } else {
            self.wire.refused[place] |= bit;
            self.wire.owes_refused = true;
        }
    }

    /// The offs that found no room, once more.
    pub fn send_refused(&mut self) {
        self.wire.owes_refused = false;
        for channel in 0..CHANNEL_COUNT as u8 {
            self.close_keys(channel, self.wire.refused[usize::from(channel)]);
        }
    }

    /// The off of every key that has passed and that no hand struck.
    pub fn close_song(&mut self) {
        for channel in 0..CHANNEL_COUNT as u8 {
            let place = usize::from(channel);
            self.close_keys(channel, self.wire.sounding[place] & !self.wire.live[place]);
        }
    }

    fn close_keys(&mut self, channel: u8, mut keys: u128) {
        while keys != 0 {
            self.note_off(channel, keys.trailing_zeros() as u8, 64, Origin::Owed);
            keys &= keys - 1;
        }
    }

    /// The off of everything that still sounds, and every bend of ours centred.
    pub fn close_all(&mut self) {
        for channel in 0..CHANNEL_COUNT as u8 {
            self.close_keys(channel, self.wire.sounding[usize::from(channel)]);
            if self.wire.bent_channels >> channel & 1 == 1 {
                self.centre(channel);
            }
        }
    }

    /// Lifts every pedal that is down.
    pub fn lift_pedals(&mut self) {
        while self.wire.pedalled_channels != 0 {
            let channel = self.wire.pedalled_channels.trailing_zeros() as u8;
            let message = Message::Controller { channel, number: SUSTAIN_CONTROLLER, value: 0 };
            self.send(message, Origin::Owed);
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
