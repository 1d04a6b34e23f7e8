//! Gathers what is performed while the plugin plays, so that what comes next finds room.
//!
//! The framework's own background thread is not used: a task that outlives its plugin there ends the
//! thread for every other plugin of the process.

use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::window_access::WindowAccess;

/// How often it looks. A host that renders two hundred times as fast as it plays performs twenty
/// seconds meanwhile, a third of what may wait.
const EVERY: Duration = Duration::from_millis(100);

/// A thread that gathers until this is dropped. Off the audio thread.
pub struct Gatherer {
    /// Hung up, it ends the thread.
    line: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Gatherer {
    /// Begins. Where the system has no thread to give, the window gathers when it looks.
    pub fn begin(access: Arc<WindowAccess>) -> Gatherer {
        let (line, end) = channel();
        let gather = move || {
            while end.recv_timeout(EVERY) == Err(RecvTimeoutError::Timeout) {
                access.with_performance(|_| ());
            }
        };
        let thread = thread::Builder::new().name("polso-gather".to_owned()).spawn(gather);
        Gatherer { line: Some(line), thread: thread.ok() }
    }
}

impl Drop for Gatherer {
    fn drop(&mut self) {
        drop(self.line.take());
        if let Some(thread) = self.thread.take() {
            // It has nothing to say, and a panic of it has been told already.
            drop(thread.join());
        }
    }
}
