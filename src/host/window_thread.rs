//! The system's window, which is not given up before its own thread has ended.
//!
//! The window's library lets its thread end when it will, and the graphics driver goes with it: a
//! host that ends just then would fall over both.

use std::cell::RefCell;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

use egui_baseview::baseview::Window;

/// Longer than a thread takes to end; a host must not hang.
const PATIENCE: Duration = Duration::from_secs(2);

/// Whether the window's thread is there.
#[derive(Clone, Default)]
pub struct WindowThread {
    shared: Arc<(Mutex<bool>, Condvar)>,
}

thread_local! {
    /// Dropped when the thread ends, after all that it owned.
    static PRESENCE: RefCell<Option<Presence>> = const { RefCell::new(None) };
}

struct Presence(WindowThread);

impl Drop for Presence {
    fn drop(&mut self) {
        self.0.set(false);
    }
}

impl WindowThread {
    /// The window's thread: it is there, until it ends.
    pub fn begin(&self) {
        self.set(true);
        PRESENCE.set(Some(Presence(self.clone())));
    }

    fn set(&self, is_there: bool) {
        let (lock, changed) = &*self.shared;
        *lock.lock().unwrap_or_else(PoisonError::into_inner) = is_there;
        changed.notify_all();
    }
}

/// A window and its thread. The host's main thread; dropping it waits for the other.
pub struct WindowOnThread {
    /// The window; it is dropped before its thread is waited for.
    pub window: Window,
    _end: ThreadEnd,
}

impl WindowOnThread {
    /// The host's main thread. A window that is drawn on that thread.
    pub fn new(window: Window, thread: WindowThread) -> WindowOnThread {
        WindowOnThread { window, _end: ThreadEnd(thread) }
    }
}

/// Waits for the end of a thread when it is dropped.
struct ThreadEnd(WindowThread);

impl Drop for ThreadEnd {
    fn drop(&mut self) {
        let (lock, changed) = &*self.0.shared;
        let is_there = lock.lock().unwrap_or_else(PoisonError::into_inner);
        // Whoever waited in vain goes on all the same.
        let _ = changed.wait_timeout_while(is_there, PATIENCE, |is_there| *is_there);
    }
}
