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
pub struct LiveFrame {
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
pub struct HeardMessage {
    /// Seconds, as in [`LiveFrame::at_s`].
    pub at_s: f64,
    /// The message.
    pub message: Message,
}

/// How the two ends call each other without waiting.
#[derive(Clone, Default)]
struct WakeUp {
    /// Somebody has begun to look, and is to be shown something even at rest.
    is_wanted: Arc<AtomicBool>,
    #[cfg(feature = "editor")]
    repaint: RepaintNotifier,
}

impl WakeUp {
    /// There is something new to see.
    fn call(&self) {
        #[cfg(feature = "editor")]
        self.repaint.request_repaint();
    }
}

/// The player's end. Audio thread; nothing here waits.
pub struct LiveWriter {
    frames: Producer<LiveFrame>,
    heard: Producer<HeardMessage>,
    wishes: Consumer<Input>,
    wake_up: WakeUp,
    before: Option<LiveFrame>,
    /// When something moved last, seconds.
    moved_s: f64,
    is_still: bool,
}

impl LiveWriter {
    /// Shows a frame, unless nobody has read the last [`FRAMES_MAX`]. A line that has been at rest
    /// for [`STILL_S`] shows nothing more.
    pub fn show(&mut self, frame: LiveFrame) {
        let is_wanted = self.wake_up.is_wanted.swap(false, Ordering::Relaxed);
        let moves = self.before.is_none_or(|before| {
            frame.sent > 0
                || frame.losses != before.losses
                || frame.at_s < before.at_s
                || frame.view.moves_after(&before.view)
        });
        self.before = Some(frame);
        if moves {
            (self.moved_s, self.is_still) = (frame.at_s, false);
            self.wake_up.call();
        } else if self.is_still && !is_wanted {
            return;
        } else if frame.at_s - self.moved_s >= STILL_S {
            self.is_still = true;
            self.wake_up.call();
        }
        // A full ring means that nobody looks.
        let _ = self.frames.push(frame);
    }

    /// Shows what has arrived, likewise.
    pub fn hear(&mut self, at_s: f64, message: Message) {
        let _ = self.heard.push(HeardMessage { at_s, message });
        self.wake_up.call();
    }

    /// The next wish, oldest first.
    pub fn wish(&mut self) -> Option<Input> {
        self.wishes.pop().ok()
    }
}

/// The reader's end. Any thread but the audio thread; only readers wait for each other.
pub struct LiveValues {
    ends: Mutex<ReaderEnds>,
    wake_up: WakeUp,
}

struct ReaderEnds {
    frames: Consumer<LiveFrame>,
    heard: Consumer<HeardMessage>,
    wishes: Producer<Input>,
}

impl LiveValues {
    /// Off the audio thread. Both ends.
    pub fn both_ends() -> (LiveWriter, LiveValues) {
        let (show, frames) = RingBuffer::new(FRAMES_MAX);
        let (hear, heard) = RingBuffer::new(HEARD_MAX);
        let (wishes, fulfil) = RingBuffer::new(WISHES_MAX);
        let ends = Mutex::new(ReaderEnds { frames, heard, wishes });
        let wake_up = WakeUp::default();
        let writer = LiveWriter {
            frames: show,
            heard: hear,
            wishes: fulfil,
            wake_up: wake_up.clone(),
            before: None,
            moved_s: 0.0,
            is_still: false,
        };
        (writer, LiveValues { ends, wake_up })
    }

    /// What wakes a window when there is something new to see.
    #[cfg(feature = "editor")]
    pub fn repaint(&self) -> RepaintNotifier {
        self.wake_up.repaint.clone()
    }

    /// The next frame, oldest first.
    pub fn read(&self) -> Option<LiveFrame> {
        self.ends().frames.pop().ok()
    }

    /// The next message that arrived, oldest first.
    pub fn hear(&self) -> Option<HeardMessage> {
        self.ends().heard.pop().ok()
    }

    /// Forgets what was shown while nobody looked, and asks for the present values.
    pub fn skip(&self) {
        self.wake_up.is_wanted.store(true, Ordering::Relaxed);
        let mut ends = self.ends();
        while ends.frames.pop().is_ok() {}
        while ends.heard.pop().is_ok() {}
    }

    /// Asks the player for something, at the first frame of its next block. False if the last
    /// [`WISHES_MAX`] wait still, since nobody plays.
    pub fn wish(&self, wish: Input) -> bool {
        self.ends().wishes.push(wish).is_ok()
    }

    fn ends(&self) -> MutexGuard<'_, ReaderEnds> {
        self.ends.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
