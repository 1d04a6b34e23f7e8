//! Sound through the loudspeakers: softly at first, never above a ceiling, faded in and out.
//!
//! Whoever has samples to play hands them to [`play`], which keeps a ring filled; the device's audio
//! thread takes them from there through a [`Fader`] and a [`Limiter`], and neither waits nor allocates.
//! [`Speaker`] is the system's own device; tests play to one that only listens.

mod fader;
mod limiter;

mod ring_output;

mod device;
mod speaker;

mod playback;

pub use device::{Device, DeviceError, Fill, PlayingDevice};
pub use fader::Fader;
pub use limiter::{CEILING_DBFS, Limiter};
pub use playback::{FADER_DB, FADER_DB_MAX, FADER_DB_MIN, Played, play};
pub use ring_output::{RingOutput, Valve};
pub use speaker::Speaker;
