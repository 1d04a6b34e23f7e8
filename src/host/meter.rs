//! What the player shows to whoever looks: a frame of values every few milliseconds.

use std::sync::{Mutex, PoisonError};

use rtrb::{Consumer, Producer, RingBuffer};

use crate::engine::{Losses, View};

/// Frames that wait for a reader; when it is full the newest are left out.
const FRAMES_MAX: usize = 128;
/// From one frame to the next, seconds.
pub const FRAME_S: f64 = 0.010;

/// The values of one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Frames of sound since the plugin was activated.
    pub at: u64,
    /// The engine's values.
    pub view: View,
    /// What could not be done so far.
    pub losses: Losses,
}

/// The player's end. Showing never waits.
pub struct Pen {
    ring: Producer<Frame>,
}

impl Pen {
    /// Shows a frame, unless nobody has read the last [`FRAMES_MAX`].
    pub fn show(&mut self, frame: Frame) {
        // A full ring means that nobody looks.
        let _ = self.ring.push(frame);
    }
}

/// The reader's end.
pub struct Meter {
    ring: Mutex<Consumer<Frame>>,
}

impl Meter {
    /// Both ends.
    pub fn pair() -> (Pen, Meter) {
        let (producer, consumer) = RingBuffer::new(FRAMES_MAX);
        (Pen { ring: producer }, Meter { ring: Mutex::new(consumer) })
    }

    /// The next frame, oldest first. Only readers wait for each other.
    pub fn read(&self) -> Option<Frame> {
        self.ring.lock().unwrap_or_else(PoisonError::into_inner).pop().ok()
    }
}
