//! Messages of MIDI 1.0, and keys and channels that cannot be wrong.

/// Channels of one MIDI 1.0 cable.
pub const CHANNEL_COUNT: usize = 16;
/// Keys of MIDI 1.0; 60 is C4.
pub const KEY_COUNT: usize = 128;
/// The centre of a 14-bit pitch bend (MIDI 1.0).
pub const BEND_CENTRE: u16 = 8192;
/// The highest 14-bit value (MIDI 1.0).
pub const FINE_MAX: u16 = 16_383;
/// MIDI 1.0 pairs controllers 0–31 with 32–63: coarse value first, fine value 32 higher.
pub const FINE_CONTROLLER_OFFSET: u8 = 32;
/// MIDI 1.0 controller 1.
pub const MODULATION_CONTROLLER: u8 = 1;
/// MIDI 1.0 controller 11.
pub const EXPRESSION_CONTROLLER: u8 = 11;
/// MIDI 1.0, damper pedal: 0–63 off, 64–127 on.
pub const SUSTAIN_CONTROLLER: u8 = 64;
/// The lowest value that a MIDI 1.0 switch reads as on.
pub const SWITCH_ON_MIN: u8 = 64;
/// MIDI 1.0: portamento time.
pub const PORTAMENTO_TIME: u8 = 5;
/// MIDI 1.0: portamento on or off.
pub const PORTAMENTO_SWITCH: u8 = 65;
/// MIDI 1.0: legato footswitch: one note at a time, each going on from the last.
pub const LEGATO_SWITCH: u8 = 68;
/// MIDI 1.0: portamento control, the key that the next note comes from.
pub const PORTAMENTO_CONTROL: u8 = 84;
/// MIDI 1.0 channel mode message: all sound off.
pub const ALL_SOUND_OFF: u8 = 120;
/// MIDI 1.0 channel mode message: reset all controllers (RP-015 says what it resets).
pub const RESET_ALL_CONTROLLERS: u8 = 121;
/// MIDI 1.0 channel mode message: all notes off.
pub const ALL_NOTES_OFF: u8 = 123;

/// A key, 0..=127 as MIDI 1.0 counts them; 60 is C4.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Key(u8);

impl Key {
    /// The lowest key.
    pub const LOWEST: Key = Key(0);

    /// The key of a number; `None` above 127. Any thread.
    pub const fn new(number: u8) -> Option<Key> {
        if (number as usize) < KEY_COUNT { Some(Key(number)) } else { None }
    }

    /// 0..=127. Any thread.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place among all keys, 0..=127. Any thread.
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

/// A channel, 0..=15 as MIDI 1.0 sends them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Channel(u8);

impl Channel {
    /// The first channel.
    pub const FIRST: Channel = Channel(0);

    /// The channel of a number; `None` above 15. Any thread.
    pub const fn new(number: u8) -> Option<Channel> {
        if (number as usize) < CHANNEL_COUNT { Some(Channel(number)) } else { None }
    }

    /// The channel so many after this one, beginning again after the last. Any thread.
    pub const fn after(self, count: u8) -> Channel {
        Channel((self.0.wrapping_add(count)) % CHANNEL_COUNT as u8)
    }

    /// 0..=15. Any thread.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place among all channels, 0..=15. Any thread.
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

/// A channel message of MIDI 1.0, as it stands on the wire. The engine passes over one whose
/// numbers no wire can carry (see [`Message::is_whole`]) and counts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Message {
    /// A key is struck. `velocity` is 1..=127.
    NoteOn {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        key: u8,
        /** 1..=127 */
        velocity: u8,
    },
    /// A key is released.
    NoteOff {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        key: u8,
        /** 0..=127, the release speed */
        velocity: u8,
    },
    /// Pressure on one key.
    PolyPressure {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        key: u8,
        /** 0..=127 */
        value: u8,
    },
    /// A controller moves, or a channel mode message (120..=127).
    Controller {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        number: u8,
        /** 0..=127 */
        value: u8,
    },
    /// A program is chosen.
    Program {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        program: u8,
    },
    /// Pressure on the whole channel.
    ChannelPressure {
        /** 0..=15 */
        channel: u8,
        /** 0..=127 */
        value: u8,
    },
    /// The bend wheel; 8192 is the centre.
    PitchBend {
        /** 0..=15 */
        channel: u8,
        /** 0..=16383 */
        value: u16,
    },
}

impl Message {
    /// The message's channel, 0..=15.
    pub const fn channel(self) -> u8 {
        match self {
            Message::NoteOn { channel, .. }
            | Message::NoteOff { channel, .. }
            | Message::PolyPressure { channel, .. }
            | Message::Controller { channel, .. }
            | Message::Program { channel, .. }
            | Message::ChannelPressure { channel, .. }
            | Message::PitchBend { channel, .. } => channel,
        }
    }

    /// The message as MIDI 1.0 bytes and how many of them count (2 or 3).
    pub const fn bytes(self) -> ([u8; 3], usize) {
        match self {
            Message::NoteOff { channel, key, velocity } => ([0x80 | channel, key, velocity], 3),
            Message::NoteOn { channel, key, velocity } => ([0x90 | channel, key, velocity], 3),
            Message::PolyPressure { channel, key, value } => ([0xA0 | channel, key, value], 3),
            Message::Controller { channel, number, value } => ([0xB0 | channel, number, value], 3),
            Message::Program { channel, program } => ([0xC0 | channel, program, 0], 2),
            Message::ChannelPressure { channel, value } => ([0xD0 | channel, value, 0], 2),
            // Low seven bits first (MIDI 1.0).
            Message::PitchBend { channel, value } => {
                ([0xE0 | channel, (value & 0x7F) as u8, (value >> 7) as u8 & 0x7F], 3)
            }
        }
    }

    /// Reads a channel message; `None` for anything else, short bytes or data bytes above 127.
    /// A note-on of velocity 0 is a note-off of velocity 64 (MIDI 1.0).
    pub fn from_bytes(bytes: &[u8]) -> Option<Message> {
        let (&status, data) = bytes.split_first()?;
        let channel = status & 0x0F;
        let first = *data.first()?;
        let second = data.get(1).copied();
        if first > 0x7F || second.is_some_and(|value| value > 0x7F) {
            return None;
        }
        Some(match (status & 0xF0, second) {
            (0x80, Some(velocity)) => Message::NoteOff { channel, key: first, velocity },
            (0x90, Some(0)) => Message::NoteOff { channel, key: first, velocity: 64 },
            (0x90, Some(velocity)) => Message::NoteOn { channel, key: first, velocity },
            (0xA0, Some(value)) => Message::PolyPressure { channel, key: first, value },
            (0xB0, Some(value)) => Message::Controller { channel, number: first, value },
            (0xC0, _) => Message::Program { channel, program: first },
            (0xD0, _) => Message::ChannelPressure { channel, value: first },
            (0xE0, Some(high)) => {
                Message::PitchBend { channel, value: u16::from(high) << 7 | u16::from(first) }
            }
            _ => return None,
        })
    }

    /// Every number is within what MIDI 1.0 can carry: channels 0..=15, bends 0..=16383, all
    /// else 0..=127. Any thread.
    pub const fn is_whole(self) -> bool {
        let (bytes, _) = match self {
            Message::PitchBend { channel, value } => {
                return channel < CHANNEL_COUNT as u8 && value <= FINE_MAX;
            }
            other => other.bytes(),
        };
        self.channel() < CHANNEL_COUNT as u8 && bytes[1] < 0x80 && bytes[2] < 0x80
    }
}
