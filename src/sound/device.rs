//! What can be played to: the system's loudspeakers, or whatever stands in for them.

use thiserror::Error;

/// Fills a block with left and right in turn, on the device's audio thread.
pub type Fill = Box<dyn FnMut(&mut [f32]) + Send>;

/// A device that plays until this is dropped.
pub trait PlayingDevice {}

/// Something that plays.
pub trait Device {
    /// The rate at which it likes to play, samples a second.
    fn rate_hz(&self) -> u32;

    /// Calls `fill` for each block from now on.
    ///
    /// # Errors
    /// [`DeviceError`] if it cannot play so.
    fn start(&self, rate_hz: u32, fill: Fill) -> Result<Box<dyn PlayingDevice>, DeviceError>;
}

/// Why nothing is heard.
#[derive(Debug, Error)]
pub enum DeviceError {
    /// No output.
    #[error("the system has no sound output; give a file with -o OUT.wav")]
    None,
    /// It refused.
    #[error("the sound output cannot be used: {0}")]
    Refused(String),
}
