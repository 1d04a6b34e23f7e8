//! The one display, which one test at a time has to itself, and a thread that plays all the while.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::booth::Booth;
use super::hall::Hall;
use super::room::{Heard, Host, Said};
use super::take::{END, take};

/// Pointer, keys and memory are everybody's.
pub fn stage() -> MutexGuard<'static, ()> {
    static STAGE: Mutex<()> = Mutex::new(());
    STAGE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Frames of a block.
pub const BLOCK: u32 = 256;
/// From block to block: twice as fast as it sounds.
const PAUSE: Duration = Duration::from_micros(2_667);
/// Room for all that is heard, so that memory stands still.
const HEARD_MAX: usize = 400_000;

/// A thread on which the take is played again and again.
pub struct Playing {
    thread: JoinHandle<Played>,
    stop: Arc<AtomicBool>,
}

/// What came of it.
pub struct Played {
    pub booth: Booth,
    pub heard: Vec<Heard>,
    pub blocks: u64,
}

/// The next block of the take, which begins again when it is over.
pub fn block(booth: &mut impl Host, events: &[(u64, Said)], number: u64) -> Vec<Heard> {
    const _: () = assert!(END.is_multiple_of(BLOCK as u64));
    let start = number * u64::from(BLOCK);
    let within = start % END;
    let end = within + u64::from(BLOCK);
    let from = events.partition_point(|(frame, _)| *frame < within);
    let said = events[from..].iter().take_while(|(frame, _)| *frame < end);
    let said: Vec<_> = said.map(|(frame, said)| ((frame - within) as u32, *said)).collect();
    let heard = booth.block(BLOCK, &said, None);
    heard.into_iter().map(|(frame, said)| Heard { frame: start + u64::from(frame), said }).collect()
}

impl Playing {
    /// Takes the booth out of the hall and plays in it.
    pub fn start(hall: &mut Hall) -> Playing {
        let controls = hall.clap.booth.controls.clone();
        let mut booth = std::mem::replace(&mut hall.clap.booth, Booth::new(controls, 0));
        let stop = Arc::new(AtomicBool::new(false));
        let is_over = Arc::clone(&stop);
        let play = move || {
            let events = take();
            let nothing = Heard { frame: 1, said: events[0].1 };
            // Written once, so that it is there.
            let mut heard = vec![nothing; HEARD_MAX];
            heard.clear();
            booth.spent = vec![Duration::from_nanos(1); HEARD_MAX];
            booth.spent.clear();
            let mut blocks = 0;
            while !is_over.load(Ordering::Acquire) {
                heard.extend(block(&mut booth, &events, blocks));
                assert!(heard.len() < HEARD_MAX, "there is no more room");
                blocks += 1;
                thread::sleep(PAUSE);
            }
            Played { booth, heard, blocks }
        };
        Playing { thread: thread::spawn(play), stop }
    }

    /// Ends it and puts the booth back.
    pub fn stop(self, hall: &mut Hall) -> (Vec<Heard>, u64) {
        self.stop.store(true, Ordering::Release);
        let Played { booth, heard, blocks } = self.thread.join().expect("it has played");
        hall.clap.booth = booth;
        (heard, blocks)
    }
}

/// Memory in use, bytes, from the system's own count.
pub fn resident_bytes() -> i64 {
    const PAGE_BYTES: i64 = 4096;
    let text = std::fs::read_to_string("/proc/self/statm").expect("the system's count");
    let pages = text.split_whitespace().nth(1).and_then(|it| it.parse::<i64>().ok());
    pages.expect("a number") * PAGE_BYTES
}

/// Processor time of this process so far.
pub fn spent() -> Duration {
    let text = std::fs::read_to_string("/proc/self/stat").expect("the system's count");
    let (_, fields) = text.rsplit_once(')').expect("the name stands in brackets");
    let ticks: u64 = fields
        .split_whitespace()
        .skip(11)
        .take(2)
        .map(|it| it.parse::<u64>().expect("ticks"))
        .sum();
    // Linux counts in hundredths of a second.
    Duration::from_millis(10 * ticks)
}
