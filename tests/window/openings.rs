//! The window is opened, resized and closed again and again while the line plays: nothing of it is heard.

use std::time::{Duration, Instant};

use super::clap::Clap;
use super::hall::Hall;
use super::room::{Heard, check_equal};
use super::stage::{Playing, block, resident_bytes, stage};
use super::take::take;

const OPENINGS: usize = 50;
/// From here on the memory must stand still.
const SETTLED: usize = 10;
/// What it may grow by from then on, bytes: 0.8 MB an opening. One window that stayed takes thirty or
/// more.
const GROWTH_MAX: i64 = 32_000_000;
/// The system's allocator keeps what a thread has freed for the next one, in up to eight pools a
/// processor; every window is a thread. With two pools that is soon settled.
const POOLS: (&str, &str) = ("MALLOC_ARENA_MAX", "2");

/// Threads and open files of this process. The graphics driver ends its own a little later.
fn settled(hall: &mut Hall, wanted: Option<(usize, usize)>) -> (usize, usize) {
    let count = |what: &str| {
        let listed = std::fs::read_dir(format!("/proc/self/{what}"));
        listed.expect("the system's list").count()
    };
    let is_settled = |_: &mut Hall| wanted.is_none_or(|it| it == (count("task"), count("fd")));
    hall.wait_until("threads and files are as they were", is_settled);
    (count("task"), count("fd"))
}

#[test]
fn fifty_openings_are_neither_heard_nor_remembered() {
    let _stage = stage();
    let (name, pools) = POOLS;
    let found = std::env::var(name).unwrap_or_default();
    assert_eq!(found, pools, "{name} must be {pools}, or the allocator's pools hide what is kept");
    let mut hall = Hall::open();
    let playing = Playing::start(&mut hall);
    hall.wait(0.3);
    let before = resident_bytes();
    let (mut count, mut kept) = (None, 0);
    let (mut longest, mut total) = (Duration::ZERO, Duration::ZERO);
    for number in 1..=OPENINGS {
        let start = Instant::now();
        hall.show();
        hall.wait_drawn();
        longest = longest.max(start.elapsed());
        total += start.elapsed();
        let (width, height) = [(1000, 700), (1280, 800), (1440, 900)][number % 3];
        assert_eq!(hall.resize(width, height), (width, height));
        let size = (width as u16, height as u16);
        hall.wait_until("the window takes the size", |hall| {
            hall.screen.child_size(hall.parent.as_ref().expect("open")) == size
        });
        hall.wait(0.1);
        // A busy machine draws late.
        hall.wait_until("all of it is drawn", |hall| hall.shot().bare() == 0);
        let shot = hall.shot();
        shot.check_drawn(&format!("opening {number}"));
        if number <= 3 {
            shot.keep(&format!("opening-{number}"));
        }
        if number == 1 {
            let open = resident_bytes() - before;
            println!("one open window: {:.1} MB", open as f64 / 1e6);
        }
        hall.hide();
        if number == 1 || number == SETTLED || number == OPENINGS {
            // The first one brings the libraries.
            hall.wait(if count.is_none() { 1.0 } else { 0.0 });
            count = Some(settled(&mut hall, count));
        }
        if number == SETTLED {
            kept = resident_bytes();
        }
    }
    let growth = resident_bytes() - kept;
    let (heard, blocks) = playing.stop(&mut hall);
    println!(
        "drawn after {:.0} ms, {:.0} ms at most; memory {:.1} MB after {SETTLED} openings, {:+.2} MB \
         after {OPENINGS}; {} events of {blocks} blocks",
        total.as_secs_f64() * 1e3 / OPENINGS as f64,
        longest.as_secs_f64() * 1e3,
        kept as f64 / 1e6,
        growth as f64 / 1e6,
        heard.len(),
    );
    assert!(growth < GROWTH_MAX, "it has grown by {growth} bytes; allowed are {GROWTH_MAX}");
    check_equal("beside a window", &heard, &alone(blocks));
}

/// The same blocks without a window.
fn alone(blocks: u64) -> Vec<Heard> {
    let mut clap = Clap::open();
    let events = take();
    let heard = (0..blocks).flat_map(|number| block(&mut clap, &events, number));
    heard.collect()
}
