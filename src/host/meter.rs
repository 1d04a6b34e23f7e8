//! What the player shows to whoever looks: a frame of values every few milliseconds, and what
//! arrives; and what whoever looks wishes of the player. Neither side waits for the other.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

#[cfg(feature = "editor")]
use egui_baseview::RepaintNotifier;
use rtrb::{Consumer, Producer, RingBuffer};

use crate::engine::{Input, Message};
use crate::engine::{Losses, View};

/// Frames that wait for a reader; when it is full the newest are left out.
const FRAMES_MAX: usize = 128;
/// Messages that wait for a reader, likewise.
const HEARD_MAX: usize = 1024;
/// Wishes that wait for the player.
const WISHES_MAX: usize = 256;
/// From one frame to the next, seconds.
pub const FRAME_S: f64 = 0.010;
/// How long a line at rest still shows itself, seconds: a rate counted over one second comes to
/// nothing.
const STILL_S: f64 = 1.05;
// Whoever looks later finds it all.
const _: () = assert!((STILL_S / FRAME_S) as usize + 2 < FRAMES_MAX);

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

/// How the two ends call each other without waiting.
#[derive(Clone, Default)]
struct Bell {
    /// Somebody has begun to look, and is to be shown something even at rest.
    is_wanted: Arc<AtomicBool>,
    #[cfg(feature = "editor")]
    repaint: RepaintNotifier,
}

impl Bell {
    /// There is something new to see.
    fn ring(&self) {
        #[cfg(feature = "editor")]
        self.repaint.request_repaint();
    }
}

/// The player's end. Nothing here waits.
pub struct Pen {
    frames: Producer<Frame>,
    heard: Producer<Heard>,
    wishes: Consumer<Input>,
    bell: Bell,
    before: Option<Frame>,
    /// When something moved last, seconds.
    moved_s: f64,
    is_still: bool,
}

impl Pen {
    /// Shows a frame, unless nobody has read the last [`FRAMES_MAX`]. A line that has been at rest
    /// for [`STILL_S`] shows nothing more.
    pub fn show(&mut self, frame: Frame) {
        let is_wanted = self.bell.is_wanted.swap(false, Ordering::Relaxed);
        let moves = self.before.is_none_or(|before| {
            frame.sent > 0
                || frame.losses != before.losses
                || frame.at_s < before.at_s
                || frame.view.moves_after(&before.view)
        });
        self.before = Some(frame);
        if moves {
            (self.moved_s, self.is_still) = (frame.at_s, false);
            self.bell.ring();
        } else if self.is_still && !is_wanted {
            return;
        } else if frame.at_s - self.moved_s >= STILL_S {
            self.is_still = true;
            self.bell.ring();
        }
        // A full ring means that nobody looks.
        let _ = self.frames.push(frame);
    }

    /// Shows what has arrived, likewise.
    pub fn hear(&mut self, at_s: f64, message: Message) {
        let _ = self.heard.push(Heard { at_s, message });
        self.bell.ring();
    }

    /// The next wish, oldest first.
    pub fn wish(&mut self) -> Option<Input> {
        self.wishes.pop().ok()
    }
}

/// The reader's end. Only readers wait for each other.
pub struct Meter {
    ends: Mutex<Ends>,
    bell: Bell,
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
        let bell = Bell::default();
        let pen = Pen {
            frames: show,
            heard: hear,
            wishes: fulfil,
            bell: bell.clone(),
            before: None,
            moved_s: 0.0,
            is_still: false,
        };
        (pen, Meter { ends, bell })
    }

    /// What wakes a window when there is something new to see.
    #[cfg(feature = "editor")]
    pub fn repaint(&self) -> RepaintNotifier {
        self.bell.repaint.clone()
    }

    /// The next frame, oldest first.
    pub fn read(&self) -> Option<Frame> {
        self.ends().frames.pop().ok()
    }

    /// The next message that arrived, oldest first.
    pub fn hear(&self) -> Option<Heard> {
        self.ends().heard.pop().ok()
    }

    /// Forgets what was shown while nobody looked, and asks for the present values.
    pub fn skip(&self) {
        self.bell.is_wanted.store(true, Ordering::Relaxed);
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
