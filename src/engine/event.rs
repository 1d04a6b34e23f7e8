//! What goes into the engine and what comes out of it: notes, controllers and the song's position.

use super::wish::Wish;

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
/// MIDI 1.0, damper pedal: 0–63 off, 64–127 on.
pub const SUSTAIN_CONTROLLER: u8 = 64;
/// The lowest value that a MIDI 1.0 switch reads as on.
pub const SWITCH_ON_MIN: u8 = 64;
/// MIDI 1.0 channel mode message: all sound off.
pub const ALL_SOUND_OFF: u8 = 120;
/// MIDI 1.0 channel mode message: reset all controllers (RP-015 says what it resets).
pub const RESET_ALL_CONTROLLERS: u8 = 121;
/// MIDI 1.0 channel mode message: all notes off.
pub const ALL_NOTES_OFF: u8 = 123;

/// A channel message of MIDI 1.0. Channels are 0..=15, seven-bit values 0..=127; whoever
/// makes one masks its bytes, so inside the engine no value is doubted.
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
}

/// Something that happens to the engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Input {
    /// A message that was played or recorded. A note that arrives so while the song runs is the
    /// song's: a stop ends it. One that arrives while the song stands is a hand's.
    Midi(Message),
    /// A message that a hand plays just now, whatever the song does: a stop leaves its note.
    /// For adapters that can tell the hand from the recording; the rest is as with `Midi`.
    Live(Message),
    /// The recorded gesture of an automated parameter, 0..=1 of the controller's travel.
    Gesture(f64),
    /// Standing aside begins or ends: what sounds is ended, then everything passes untouched, or
    /// every output is sent again.
    Bypass(bool),
    /// A knob is turned, in the unit and range of [`Parameter`].
    Parameter(Parameter, f64),
    /// Where the song stands at this frame and how fast it runs. Sent at the start, at a stop
    /// and at every change of tempo. The step from running to standing is the stop: the notes
    /// that the song began end, keys that a hand holds stay, the bend goes home.
    Song {
        /// Quarter notes since the start of the song.
        beat: f64,
        /// Quarter notes a minute.
        tempo_bpm: f64,
        /// False while the transport stands still.
        running: bool,
    },
    /// The song has jumped to another place, by hand or at the end of a loop. Everything that
    /// sounds ends, tail, vibrato and pace are dropped, the ticks begin anew at this frame, the
    /// gesture stands at its last value, and every output is sent again: now, and before the
    /// first note if anything has arrived in between.
    Locate {
        /// Quarter notes since the start of the song.
        beat: f64,
        /// Quarter notes a minute.
        tempo_bpm: f64,
        /// False while the transport stands still.
        running: bool,
    },
    /// An articulation is chosen, by its place in the common list; one beyond it is passed over.
    /// Notes that begin from here on have it.
    Articulation(u8),
    /// What is asked of a note that begins at this very frame.
    Wish(Wish),
    /// Send every output's present value again, so that the receiver is right.
    Resync,
    /// The player has seen to the echo: outputs that stand still because of it move again, and
    /// every output is sent again.
    Thaw,
    /// Silence and rest, now: the off of every key emitted, bend centred, outputs at rest.
    Panic,
}

impl Input {
    /// The message, if it is one.
    pub const fn message(self) -> Option<Message> {
        match self {
            Input::Midi(message) | Input::Live(message) => Some(message),
            _ => None,
        }
    }
}

/// An [`Input`] and its place in the block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed {
    /// Frames since the start of the block; below the block's frame count, never falling
    /// from one event to the next.
    pub frame: u32,
    /// The adapter's own mark. What comes out because of this event carries it again.
    pub tag: u32,
    /// What happens.
    pub input: Input,
}

/// A knob that may be turned while the line plays, on top of what the files say. At its neutral
/// value each leaves the files as they are; a value beyond its range is taken at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Parameter {
    /// Factor of the hand's weight, 0.5..=3; neutral 1.
    Weight,
    /// The lowest level, share of the way from the instrument's floor to its ceiling, 0..=1;
    /// neutral 0.
    Floor,
    /// The highest level, likewise, never below the lowest; neutral 1.
    Ceiling,
    /// Factor of the vibrato's width, 0..=2; neutral 1.
    VibratoWidth,
    /// Factor of the vibrato's rate, 0.5..=2; neutral 1.
    VibratoRate,
    /// Factor of the wait before the vibrato starts, 0..=4; neutral 1.
    Onset,
    /// Position on the ordered list of styles, 0..=1, whatever the gesture says; below 0,
    /// neutral, the gesture decides.
    Style,
    /// Factor of the longest tail, 0..=2; neutral 1.
    Tail,
    /// Factor of the imperfection, 0..=2; neutral 1.
    Imperfection,
    /// Added to the patch's seed, whole, 0..=65535; neutral 0.
    Seed,
}

/// Why the engine sent a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Origin {
    /// An input event of this tag went through unchanged: neither a note nor consumed.
    Passed(u32),
    /// The on or off of the note whose note-on had this tag. Velocity and time may have changed.
    Note(u32),
    /// A layer's own message.
    Layer(Layer),
    /// An off that nobody played: of a note, keyswitch or pedal that a jump, a stop or the last
    /// `reset` left down.
    Owed,
}

/// One stream of messages that the gesture drives (DESIGN: outputs).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Layer {
    /// How loud, 0..=1: a position that stands for decibels.
    Dynamics,
    /// The second level, an amplitude 0..=1, for tails and niente.
    Expression,
    /// Vibrato width for the receiver's own vibrato, cents peak to peak.
    VibratoWidth,
    /// Vibrato rate for the receiver's own vibrato, Hz.
    VibratoRate,
    /// Position on the ordered list of styles, 0..=1.
    Style,
    /// The weight of one style, 0..=1, by its index.
    StyleWeight(u8),
    /// The performed vibrato plus the player's bend, cents.
    Pitch,
    /// The legato mode.
    Legato,
    /// The articulation.
    Articulation,
    /// Portamento time and switch.
    Slide,
    /// Ambience send, steps of 127 above its base.
    Send,
    /// The conditioned gesture itself, 0..=1.
    Gesture,
}

impl Layer {
    /// The layers that outputs are driven by: all but mode, articulation and slide, which go out
    /// with their note.
    pub const OUTPUTS: [Layer; 12] = [
        Layer::Dynamics,
        Layer::Expression,
        Layer::VibratoWidth,
        Layer::VibratoRate,
        Layer::Style,
        Layer::Pitch,
        Layer::Send,
        Layer::Gesture,
        Layer::StyleWeight(0),
        Layer::StyleWeight(1),
        Layer::StyleWeight(2),
        Layer::StyleWeight(3),
    ];
}

/// Where the engine's messages go. The engine calls it on the audio thread, in order of time.
pub trait Sink {
    /// Takes one message at `frame` of the present block. Returns false when there is no room;
    /// the engine counts that as a drop and goes on. Only offs are sent again, first thing in the
    /// next block.
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool;
}
