//! The audio thread's end: frames out of the ring, through fader and limiter, to the device.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use rtrb::Consumer;

use super::fader::Fader;
use super::limiter::Limiter;

/// What both threads see of an output.
#[derive(Debug, Default)]
pub struct Valve {
    /// The fader is to go down.
    closes: AtomicBool,
    /// It is down.
    is_closed: AtomicBool,
    /// Everything has been laid into the ring.
    is_complete: AtomicBool,
    /// Frames that were due and not there.
    missed_frames: AtomicU64,
}

impl Valve {
    /// Down to silence. Any thread.
    pub fn close(&self) {
        self.closes.store(true, Ordering::Release);
    }

    /// No more frames will come. Any thread.
    pub fn complete(&self) {
        self.is_complete.store(true, Ordering::Release);
    }

    /// The fader is down: the device may be stopped. Any thread.
    pub fn is_closed(&self) -> bool {
        self.is_closed.load(Ordering::Acquire)
    }

    /// Frames that were due and not there. Any thread.
    pub fn missed_frames(&self) -> u64 {
        self.missed_frames.load(Ordering::Relaxed)
    }
}

/// The audio thread's end of the ring.
pub struct RingOutput {
    frames: Consumer<[f32; 2]>,
    fader: Fader,
    limiter: Limiter,
    valve: Arc<Valve>,
}

impl RingOutput {
    /// An output whose fader opens to so many decibels.
    pub fn new(
        frames: Consumer<[f32; 2]>,
        valve: Arc<Valve>,
        (db, rate_hz): (f64, f64),
    ) -> RingOutput {
        RingOutput { frames, fader: Fader::new(db, rate_hz), limiter: Limiter::new(rate_hz), valve }
    }

    /// Fills a block, left and right in turn. Audio thread.
    pub fn fill(&mut self, out: &mut [f32]) {
        if self.valve.closes.load(Ordering::Acquire) {
            self.fader.close();
        }
        // What was complete before a frame was missing has ended; else the feeder came too late.
        let is_complete = self.valve.is_complete.load(Ordering::Acquire);
        let mut missed = 0;
        for out in out.chunks_mut(2) {
            let frame = match self.frames.pop() {
                Ok(frame) => frame,
                Err(_) => {
                    missed += 1;
                    [0.0; 2]
                }
            };
            let gain = self.fader.next_gain();
            let heard = self.limiter.next(frame.map(|sample| gain * f64::from(sample)));
            for (out, heard) in out.iter_mut().zip(heard) {
                *out = heard as f32;
            }
        }
        if is_complete && missed > 0 {
            self.fader.close();
        } else if !self.fader.is_closed() {
            self.valve.missed_frames.fetch_add(missed, Ordering::Relaxed);
        }
        if self.fader.is_closed() {
            self.valve.is_closed.store(true, Ordering::Release);
        }
    }
}
