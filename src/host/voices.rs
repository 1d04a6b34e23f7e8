//! Which of the host's notes sounds on which key, so that its off carries the same name.

use nice_plug::midi::VoiceID;

use crate::engine::input::message::{CHANNEL_COUNT, KEY_COUNT};
use crate::engine::{Channel, Key};

/// The tag of what has no name in the host.
pub const NO_VOICE: u32 = u32::MAX;

/// The engine's tag of a host's note.
pub fn tag(voice_id: VoiceID) -> u32 {
    voice_id.id().map_or(NO_VOICE, |id| id as u32)
}

/// The host's name of an engine's tag.
pub fn voice_id(tag: u32) -> VoiceID {
    if tag == NO_VOICE { VoiceID::Wildcard } else { VoiceID::ID(tag as i32) }
}

/// The notes that sound at the receiver. Audio thread.
pub struct Voices {
    tags: [[u32; KEY_COUNT]; CHANNEL_COUNT],
    sounding: [u128; CHANNEL_COUNT],
}

impl Voices {
    /// Nothing sounds.
    pub const SILENT: Voices =
        Voices { tags: [[NO_VOICE; KEY_COUNT]; CHANNEL_COUNT], sounding: [0; CHANNEL_COUNT] };

    /// A note begins.
    pub fn begin(&mut self, channel: Channel, key: Key, tag: u32) {
        self.tags[channel.index()][key.index()] = tag;
        self.sounding[channel.index()] |= 1 << key.number();
    }

    /// A note ends; its tag.
    pub fn end(&mut self, channel: Channel, key: Key) -> u32 {
        self.sounding[channel.index()] &= !(1 << key.number());
        self.tag(channel, key)
    }

    /// The tag of the note on a key.
    pub fn tag(&self, channel: Channel, key: Key) -> u32 {
        self.tags[channel.index()][key.index()]
    }

    /// The first channel on which a key sounds.
    pub fn channel_of(&self, key: Key) -> Option<Channel> {
        let place = self.sounding.iter().position(|keys| keys >> key.number() & 1 == 1)?;
        Channel::new(place as u8)
    }
}
