//! Everything that arrives at one frame, put in one order: offs, controllers, bend, pressure, notes.

use super::event::{Input, Timed};
use super::message::{Message, SUSTAIN_CONTROLLER};

/// The most events that are put in order together; a frame with more is ordered in parts.
pub const TOGETHER_MAX: usize = 128;

/// The order within a frame. An off that would find nothing to end, or that a pedal of the same
/// frame comes before, has to wait for what it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rank {
    /// The song, controls, wishes, and keys that choose instead of sounding.
    Song,
    /// A key comes up.
    NoteOff,
    /// A controller or a program.
    Controller,
    /// The bend wheel.
    Bend,
    /// Pressure.
    Pressure,
    /// A key goes down.
    NoteOn,
    /// An off that waits.
    LateOff,
}

impl Rank {
    /// In order.
    pub const ALL: [Rank; 7] = [
        Rank::Song,
        Rank::NoteOff,
        Rank::Controller,
        Rank::Bend,
        Rank::Pressure,
        Rank::NoteOn,
        Rank::LateOff,
    ];
}

/// The rank of the event at one place among those of its frame, at most [`TOGETHER_MAX`].
/// `held_count` says how many times a key of a channel is down, `chooses` which keys never sound.
pub fn rank(
    events: &[Timed],
    place: usize,
    held_count: impl Fn(u8, u8) -> usize,
    chooses: impl Fn(u8) -> bool,
) -> Rank {
    let Some(message) = events[place].input.message() else { return Rank::Song };
    match message {
        Message::NoteOff { channel, key, .. } => {
            rank_of_off(&events[..place], channel, key, held_count(channel, key))
        }
        Message::Controller { .. } | Message::Program { .. } => Rank::Controller,
        Message::PitchBend { .. } => Rank::Bend,
        Message::ChannelPressure { .. } | Message::PolyPressure { .. } => Rank::Pressure,
        Message::NoteOn { key, .. } if chooses(key) => Rank::Song,
        Message::NoteOn { .. } => Rank::NoteOn,
    }
}

fn rank_of_off(before: &[Timed], channel: u8, key: u8, held_count: usize) -> Rank {
    let is_off = |event: &&Timed| {
        matches!(event.input.message(),
        Some(Message::NoteOff { channel: c, key: k, .. }) if (c, k) == (channel, key))
    };
    let is_on = |event: &Timed| {
        matches!(event.input.message(),
        Some(Message::NoteOn { channel: c, key: k, .. }) if (c, k) == (channel, key))
    };
    let is_pedal = |event: &Timed| {
        matches!(event.input.message(),
        Some(Message::Controller { channel: c, number: SUSTAIN_CONTROLLER, .. })
            if c == channel)
    };
    let finds_none = before.iter().filter(is_off).count() >= held_count;
    if finds_none && before.iter().any(is_on) || before.iter().any(is_pedal) {
        Rank::LateOff
    } else {
        Rank::NoteOff
    }
}

/// Whether the lines stand aside after these events, if any of them says so.
pub fn last_bypass(events: &[Timed]) -> Option<bool> {
    let says = |event: &Timed| match event.input {
        Input::Bypass(is_bypassed) => Some(is_bypassed),
        _ => None,
    };
    events.iter().rev().find_map(says)
}
