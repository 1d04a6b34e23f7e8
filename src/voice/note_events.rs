//! Which keys of a line went down and up within one tick, as the engine sent them.

use polso_engine::{Message, Origin, Sink};

/// The most events of one tick that are kept; an off is never dropped for an on's sake.
pub const EVENTS_MAX: usize = 64;

/// A key that moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoteEvent {
    /// The channel, 0..=15: one a line.
    pub channel: u8,
    /// The key, 0..=127.
    pub key: u8,
    /// How hard, 1..=127; 0 lifts it.
    pub velocity: u8,
}

/// The events of one tick, in order. As the engine's [`Sink`] it keeps the notes and passes over all
/// else. Any thread.
#[derive(Clone, Copy, Debug)]
pub struct NoteEvents {
    events: [NoteEvent; EVENTS_MAX],
    count: usize,
}

impl NoteEvents {
    /// None yet.
    pub const NONE: NoteEvents = NoteEvents {
        events: [NoteEvent { channel: 0, key: 0, velocity: 0 }; EVENTS_MAX],
        count: 0,
    };

    /// The next tick begins.
    pub fn clear(&mut self) {
        self.count = 0;
    }

    /// Another event; false when there is no room.
    pub fn push(&mut self, event: NoteEvent) -> bool {
        // The last quarter is for offs alone, so that no tone is left sounding.
        let room = if event.velocity > 0 { 3 * EVENTS_MAX / 4 } else { EVENTS_MAX };
        if self.count >= room {
            return false;
        }
        self.events[self.count] = event;
        self.count += 1;
        true
    }

    /// The events of one channel, in order.
    pub fn of(&self, channel: u8) -> impl Iterator<Item = NoteEvent> + Clone + '_ {
        self.events[..self.count].iter().copied().filter(move |event| event.channel == channel)
    }
}

impl Sink for NoteEvents {
    fn send(&mut self, _frame: u32, message: Message, origin: Origin) -> bool {
        if !matches!(origin, Origin::Note(_) | Origin::Owed) {
            return true;
        }
        match message {
            Message::NoteOn { channel, key, velocity } => {
                self.push(NoteEvent { channel, key, velocity })
            }
            Message::NoteOff { channel, key, .. } => {
                self.push(NoteEvent { channel, key, velocity: 0 })
            }
            _ => true,
        }
    }
}
