//! What reaches the ears of somebody who listens at once, through a device that only remembers.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

use approx::assert_abs_diff_eq;
use polso::sound::{
    CEILING_DBFS, Device, DeviceError, FADER_DB, Fader, Fill, Limiter, Played, PlayingDevice, play,
};

const RATE_HZ: u32 = 48_000;
const BLOCK_FRAMES: usize = 64;

/// A device that plays as fast as it is told to, and keeps what it heard of the left side.
#[derive(Clone, Default)]
struct Listener {
    heard: Arc<Mutex<Vec<f32>>>,
    /// Once it has heard so many frames, `stops` is set.
    stop_after: Option<(usize, Arc<AtomicBool>)>,
    pause: Duration,
    blocks: Arc<AtomicU64>,
}

struct Thread {
    ends: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl PlayingDevice for Thread {}

impl Drop for Thread {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("no panic");
        }
    }
}

impl Device for Listener {
    fn rate_hz(&self) -> u32 {
        RATE_HZ
    }

    fn start(&self, _: u32, mut fill: Fill) -> Result<Box<dyn PlayingDevice>, DeviceError> {
        let (own, ends) = (self.clone(), Arc::new(AtomicBool::new(false)));
        let is_over = Arc::clone(&ends);
        let thread = std::thread::spawn(move || {
            while !is_over.load(Ordering::Acquire) {
                let mut block = [9.0; 2 * BLOCK_FRAMES];
                fill(&mut block);
                own.blocks.fetch_add(1, Ordering::Relaxed);
                let mut heard = own.heard.lock().expect("a list");
                heard.extend(block.iter().step_by(2));
                if let Some((frames, stops)) = &own.stop_after
                    && heard.len() >= *frames
                {
                    stops.store(true, Ordering::Release);
                }
                drop(heard);
                std::thread::sleep(own.pause);
            }
        });
        Ok(Box::new(Thread { ends, thread: Some(thread) }))
    }
}

/// Plays so many seconds of a level to a listener.
fn played(listener: &Listener, seconds: f64, fader_db: f64, level: f32) -> (Vec<f32>, Played) {
    let mut left = (seconds * f64::from(RATE_HZ)) as usize;
    let stops = match &listener.stop_after {
        Some((_, stops)) => Arc::clone(stops),
        None => Arc::default(),
    };
    let played = play(listener, RATE_HZ, fader_db, &stops, |frames| {
        let count = left.min(480);
        left -= count;
        frames.extend(std::iter::repeat_n([level; 2], count));
    });
    let heard = listener.heard.lock().expect("a list").clone();
    (heard, played.expect("it plays"))
}

fn amplitude(db: f64) -> f64 {
    libm::exp10(db / 20.0)
}

/// As a device would: a block of 64 frames each 1.3 ms.
fn live() -> Listener {
    Listener { pause: Duration::from_micros(1_300), ..Listener::default() }
}

#[test]
fn it_begins_softly_and_goes_no_higher_than_the_fader() {
    let (heard, played) = played(&live(), 1.0, FADER_DB, 1.0);
    assert_abs_diff_eq!(f64::from(heard[0]), 0.0, epsilon = 1e-6);
    let highest = heard.iter().fold(0.0_f32, |high, sample| high.max(*sample));
    assert_abs_diff_eq!(f64::from(highest), amplitude(-24.0), epsilon = 1e-4);
    // 10 ms after the beginning it is more than 50 dB below full.
    assert!(f64::from(heard[480]) < amplitude(-50.0), "{}", heard[480]);
    let step = heard.windows(2).map(|two| (two[1] - two[0]).abs()).fold(0.0, f32::max);
    // The end of the tone is the feeder's own; all else moves by what a fade of 0.3 s does.
    let steps = heard.windows(2).filter(|two| (two[1] - two[0]).abs() > 1e-4).count();
    assert!(steps <= 1, "{steps} steps, up to {step}");
    assert!(!played.was_stopped);
    assert_abs_diff_eq!(played.made_s, 1.0, epsilon = 1e-9);
}

#[test]
fn nothing_goes_through_the_ceiling() {
    let (heard, _) = played(&live(), 0.6, 0.0, 30.0);
    let highest = heard.iter().fold(0.0_f32, |high, sample| high.max(sample.abs()));
    assert!(f64::from(highest) <= amplitude(CEILING_DBFS) + 1e-6, "{highest}");
    assert!(f64::from(highest) > amplitude(CEILING_DBFS) - 1e-3, "{highest}");
    let mut limiter = Limiter::new(f64::from(RATE_HZ));
    assert_eq!(limiter.next([f64::NAN, f64::INFINITY]), [0.0, 0.0]);
    let soft = limiter.next([0.1, -0.2]);
    assert_abs_diff_eq!(soft[1], -0.2, epsilon = 1e-12);
}

#[test]
fn whoever_stops_it_hears_it_fade() {
    let stops = Arc::new(AtomicBool::new(false));
    let listener = Listener { stop_after: Some((24_000, Arc::clone(&stops))), ..live() };
    let (heard, played) = played(&listener, 60.0, 0.0, 0.5);
    assert!(played.was_stopped);
    assert!(played.made_s < 10.0, "{} s were made", played.made_s);
    assert_eq!(*heard.last().expect("samples"), 0.0);
    let step = heard.windows(2).map(|two| (two[1] - two[0]).abs()).fold(0.0, f32::max);
    assert!(step < 1e-4, "a step of {step}");
}

#[test]
fn a_fader_is_open_after_its_time_and_closed_after_the_same() {
    let rate_hz = f64::from(RATE_HZ);
    let mut fader = Fader::new(-6.0, rate_hz);
    let frames = (0.3 * rate_hz) as usize + 1;
    let gains: Vec<f64> = (0..frames).map(|_| fader.next_gain()).collect();
    assert!(gains.is_sorted() && gains[0] < 1e-6, "{}", gains[0]);
    assert_abs_diff_eq!(gains[frames - 1], amplitude(-6.0), epsilon = 1e-9);
    fader.close();
    assert!(!fader.is_closed());
    let last = (0..frames).map(|_| fader.next_gain()).last();
    assert_eq!(last, Some(0.0));
    assert!(fader.is_closed());
}

/// A device that takes nothing does not keep anybody waiting for ever, and one that does plays all.
#[test]
fn the_end_comes_after_all_has_been_heard() {
    let (heard, played) = played(&live(), 0.9, 0.0, 0.5);
    let loud = heard.iter().filter(|sample| **sample > 0.49).count();
    // All but the fade-in.
    assert!(loud > (0.6 * f64::from(RATE_HZ)) as usize, "{loud} frames");
    assert!(played.missed_frames == 0 || played.missed_frames < 4_800, "{played:?}");
}
