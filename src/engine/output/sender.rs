//! Sends messages at one frame, so that on and off always alternate and nothing is left sounding.

use super::feedback::Feedback;
use super::sink::{Origin, Sink};
use super::sounding::{KeySet, Sounding};
use crate::input::message::{BEND_CENTRE, CHANNEL_COUNT, SUSTAIN_CONTROLLER};
use crate::input::{Channel, Key, Message};
use crate::layer::Layer;

/// Release velocity of an off that nobody played, of 127 (MIDI 1.0: the middle).
pub const PLAIN_RELEASE: f64 = 64.0;

/// The way out at one frame.
pub struct Sender<'a, S: Sink> {
    /// Frame of the present block.
    pub frame: u32,
    /// Seconds since the anchor.
    pub now_s: f64,
    /// What sounds.
    pub sounding: &'a mut Sounding,
    /// What may come back.
    pub feedback: &'a mut Feedback,
    /// Messages since the line's budget was last charged.
    pub count: &'a mut u32,
    /// Where it goes.
    pub sink: &'a mut S,
}

impl<S: Sink> Sender<'_, S> {
    /// How many messages have gone out since this was last asked.
    pub fn take_count(&mut self) -> u32 {
        core::mem::take(self.count)
    }

    /// Sends anything but a note. What stands still is not sent.
    pub fn send(&mut self, message: Message, origin: Origin) {
        if let Origin::Layer(layer) = origin {
            if self.feedback.is_frozen(layer) {
                return;
            }
            self.feedback.send(self.now_s, message, layer);
        }
        if let (Message::PitchBend { channel, value }, Origin::Layer(_)) = (message, origin) {
            self.sounding.bend(channel, value != BEND_CENTRE);
        }
        if let Message::Controller { channel, number, value } = message {
            self.sounding.controller(channel, number, value);
        }
        self.finds_room(message, origin);
    }

    fn finds_room(&mut self, message: Message, origin: Origin) -> bool {
        *self.count = self.count.saturating_add(1);
        let is_sent = self.sink.send(self.frame, message, origin);
        self.sounding.dropped_messages += u64::from(!is_sent);
        is_sent
    }

    /// Strikes a key with a velocity of 127, after the off of what it still sounds; not if that
    /// off found no room.
    pub fn note_on(&mut self, channel: Channel, key: Key, velocity: f64, origin: Origin) {
        self.note_off(channel, key, PLAIN_RELEASE, origin);
        if self.sounding.keys.has(channel, key) {
            self.sounding.dropped_messages += 1;
            return;
        }
        let velocity = libm::round(velocity).clamp(1.0, 127.0) as u8;
        let (number, key_number) = (channel.number(), key.number());
        let on = Message::NoteOn { channel: number, key: key_number, velocity };
        if self.finds_room(on, origin) {
            self.sounding.keys.set(channel, key, true);
        }
    }

    /// Releases a key with a velocity of 127, if it sounds. An off that finds no room stays owed.
    pub fn note_off(&mut self, channel: Channel, key: Key, velocity: f64, origin: Origin) {
        if !self.sounding.keys.has(channel, key) {
            return;
        }
        let velocity = libm::round(velocity).clamp(0.0, 127.0) as u8;
        let (number, key_number) = (channel.number(), key.number());
        let off = Message::NoteOff { channel: number, key: key_number, velocity };
        let is_sent = self.finds_room(off, origin);
        if is_sent {
            self.sounding.keys.set(channel, key, false);
        }
        self.sounding.refused.set(channel, key, !is_sent);
        self.sounding.owes_refused |= !is_sent;
    }

    /// The offs that found no room, once more.
    pub fn send_refused(&mut self) {
        self.sounding.owes_refused = false;
        let refused = self.sounding.refused;
        self.close_keys(&refused);
    }

    /// The off of every key that has passed and that no hand struck.
    pub fn close_song(&mut self) {
        let keys = self.sounding.keys.without(&self.sounding.live);
        self.close_keys(&keys);
    }

    fn close_keys(&mut self, keys: &KeySet) {
        for channel in channels() {
            for key in keys.keys(channel) {
                self.note_off(channel, key, PLAIN_RELEASE, Origin::Owed);
            }
        }
    }

    /// The off of everything that still sounds, and every bend of ours centred.
    pub fn close_all(&mut self) {
        for channel in channels() {
            for key in self.sounding.keys.keys(channel) {
                self.note_off(channel, key, PLAIN_RELEASE, Origin::Owed);
            }
            if self.sounding.is_bent(channel) {
                self.centre(channel);
            }
        }
    }

    /// Lifts every pedal that is down.
    pub fn lift_pedals(&mut self) {
        while let Some(channel) = self.sounding.pedalled() {
            let (channel, number) = (channel.number(), SUSTAIN_CONTROLLER);
            self.send(Message::Controller { channel, number, value: 0 }, Origin::Owed);
        }
    }

    /// Sends a controller of a layer.
    pub fn controller(&mut self, channel: Channel, number: u8, value: u8, layer: Layer) {
        let channel = channel.number();
        self.send(Message::Controller { channel, number, value }, Origin::Layer(layer));
    }

    /// Centres the bend.
    pub fn centre(&mut self, channel: Channel) {
        let message = Message::PitchBend { channel: channel.number(), value: BEND_CENTRE };
        self.send(message, Origin::Layer(Layer::Pitch));
    }
}

fn channels() -> impl Iterator<Item = Channel> {
    (0..CHANNEL_COUNT as u8).filter_map(Channel::new)
}
