//! Plays samples as they are made: keeps the ring filled, and fades out when all is told to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use rtrb::RingBuffer;

use super::device::{Device, DeviceError};
use super::ring_output::{RingOutput, Valve};

/// Where the fader goes at first, and the ends of its way, decibels.
pub const FADER_DB: f64 = -24.0;
/// See [`FADER_DB`].
pub const FADER_DB_MIN: f64 = -60.0;
/// See [`FADER_DB`].
pub const FADER_DB_MAX: f64 = 0.0;
/// How much is made beforehand, seconds: so long may whoever makes it be kept from it.
const AHEAD_S: f64 = 0.5;
/// How often the ring is looked at.
const LOOK: Duration = Duration::from_millis(5);
/// A device that takes nothing any more is left after so many looks: five seconds.
const LOOKS_MAX: u32 = 1_000;

/// What became of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// Seconds that were made.
    pub made_s: f64,
    /// Frames that were due and not there.
    pub missed_frames: u64,
    /// Somebody stopped it before its end.
    pub was_stopped: bool,
}

/// Plays what `make` adds to the frames that it is given (some milliseconds at a time; nothing is the
/// end) to a device, the fader at `fader_db`, until it ends or `stops` is set; then it fades out.
/// It returns when nothing is heard any more. Not on the audio thread.
///
/// # Errors
/// As [`Device::start`].
pub fn play(
    device: &dyn Device,
    rate_hz: u32,
    fader_db: f64,
    stops: &AtomicBool,
    mut make: impl FnMut(&mut Vec<[f32; 2]>),
) -> Result<Played, DeviceError> {
    let rate = f64::from(rate_hz);
    let (mut ring, frames) = RingBuffer::new((AHEAD_S * rate) as usize);
    let valve = Arc::new(Valve::default());
    let fader_db = fader_db.clamp(FADER_DB_MIN, FADER_DB_MAX);
    let mut output = Some(RingOutput::new(frames, Arc::clone(&valve), (fader_db, rate)));
    let (mut made, mut waiting, mut is_complete) = (Vec::new(), 0, false);
    let mut made_frames = 0_u64;
    let mut playing = None;
    let mut looks_left = LOOKS_MAX;
    while !valve.is_closed() && looks_left > 0 {
        let was_stopped = stops.load(Ordering::Acquire);
        if was_stopped {
            valve.close();
        }
        let mut takes = false;
        while !is_complete && !was_stopped {
            if waiting == made.len() {
                made.clear();
                waiting = 0;
                make(&mut made);
                made_frames += made.len() as u64;
                is_complete = made.is_empty();
            }
            let before = waiting;
            while waiting < made.len() && ring.push(made[waiting]).is_ok() {
                waiting += 1;
            }
            takes |= waiting > before;
            if waiting < made.len() {
                break;
            }
        }
        if is_complete {
            valve.complete();
        }
        // The ring is full: now the first block finds what it needs.
        if let Some(mut output) = output.take() {
            playing = Some(device.start(rate_hz, Box::new(move |out| output.fill(out)))?);
        }
        looks_left = if takes { LOOKS_MAX } else { looks_left - 1 };
        thread::sleep(LOOK);
    }
    drop(playing);
    let was_stopped = stops.load(Ordering::Acquire);
    let missed_frames = valve.missed_frames();
    Ok(Played { made_s: made_frames as f64 / rate, missed_frames, was_stopped })
}
