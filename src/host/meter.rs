//! What the player shows to whoever looks: a frame of values every few milliseconds, and what
//! arrives; and what whoever looks wishes of the player. Neither side waits for the other.

use std::sync::{Mutex, MutexGuard, PoisonError};

use rtrb::{Consumer, Producer, RingBuffer};

use crate::engine::event::{Input, Message};
use crate::engine::{Losses, View};

/// Frames that wait for a reader; when it is full the newest are left out.
const FRAMES_MAX: usize = 128;
/// Messages that wait for a reader, likewise.
const HEARD_MAX: usize = 1024;
/// Wishes that wait for the player.
const WISHES_MAX: usize = 256;
/// From one frame to the next, seconds.
pub const FRAME_S: f64 = 0.010;

/// The values of one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Seconds of playing since the plugin was activated.
    pub at_s: f64,
    /// The engine's values.
    pub view: View,
    /// What could not be done so far.
    pub losses: Losses,
    /// Messages that went out since the frame before.
    pub sent: u32,
}

/// A message that arrived, before anything was made of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// Seconds, as in [`Frame::at_s`].
    pub at_s: f64,
    /// The message.
    pub message: Message,
}

/// The player's end. Nothing here waits.
pub struct Pen {
    frames: Producer<Frame>,
    heard: Producer<Heard>,
    wishes: Consumer<Input>,
}

impl Pen {
    /// Shows a frame, unless nobody has read the last [`FRAMES_MAX`].
    pub fn show(&mut self, frame: Frame) {
        // A full ring means that nobody looks.
        let _ = self.frames.push(frame);
    }

    /// Shows what has arrived, likewise.
    pub fn hear(&mut self, at_s: f64, message: Message) {
        let _ = self.heard.push(Heard { at_s, message });
    }

    /// The next wish, oldest first.
    pub fn wish(&mut self) -> Option<Input> {
        self.wishes.pop().ok()
    }
}

/// The reader's end. Only readers wait for each other.
pub struct Meter {
    ends: Mutex<Ends>,
}

struct Ends {
    frames: Consumer<Frame>,
    heard: Consumer<Heard>,
    wishes: Producer<Input>,
}

impl Meter {
    /// Both ends.
    pub fn pair() -> (Pen, Meter) {
        let (show, frames) = RingBuffer::new(FRAMES_MAX);
        let (hear, heard) = RingBuffer::new(HEARD_MAX);
        let (wishes, fulfil) = RingBuffer::new(WISHES_MAX);
        let ends = Mutex::new(Ends { frames, heard, wishes });
        (Pen { frames: show, heard: hear, wishes: fulfil }, Meter { ends })
    }

    /// The next frame, oldest first.
    pub fn read(&self) -> Option<Frame> {
        self.ends().frames.pop().ok()
    }

    /// The next message that arrived, oldest first.
    pub fn hear(&self) -> Option<Heard> {
        self.ends().heard.pop().ok()
    }

    /// Forgets what was shown while nobody looked.
    pub fn skip(&self) {
        let mut ends = self.ends();
        while ends.frames.pop().is_ok() {}
        while ends.heard.pop().is_ok() {}
    }

    /// Asks the player for something, at the first frame of its next block. False if the last
    /// [`WISHES_MAX`] wait still, since nobody plays.
    pub fn wish(&self, wish: Input) -> bool {
        self.ends().wishes.push(wish).is_ok()
    }

    fn ends(&self) -> MutexGuard<'_, Ends> {
        self.ends.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
