//! While nothing moves, nothing is drawn; and what begins to move is seen.

use std::thread;
use std::time::{Duration, Instant};

use super::hall::Hall;
use super::room::{Host, RATE_HZ, Said};
use super::stage::{BLOCK, spent, stage};
use super::take::{off, on, wheel};

/// What an open window at rest may take of one processor, beside what its host takes to play.
const SHARE_MAX: f64 = 0.03;

impl Hall {
    /// Plays blocks in time for so long.
    fn play(&mut self, seconds: f64, said: &[(u32, Said)]) {
        let start = Instant::now();
        let blocks = (seconds * RATE_HZ / f64::from(BLOCK)) as u32;
        for number in 0..blocks {
            self.clap.booth.block(BLOCK, if number == 0 { said } else { &[] }, None);
            self.turn();
            let due_s = f64::from(number + 1) * f64::from(BLOCK) / RATE_HZ;
            let ahead_s = due_s - start.elapsed().as_secs_f64();
            thread::sleep(Duration::from_secs_f64(ahead_s.max(0.0)));
        }
    }

    /// The same; the share of one processor that it took comes back.
    fn share(&mut self, seconds: f64, said: &[(u32, Said)]) -> f64 {
        let (start, before) = (Instant::now(), spent());
        self.play(seconds, said);
        (spent() - before).as_secs_f64() / start.elapsed().as_secs_f64()
    }

    /// The same; whether the window was seen to change.
    fn changes(&mut self, seconds: f64, said: &[(u32, Said)]) -> bool {
        let before = self.shot();
        self.play(seconds, said);
        self.shot().differing(&before) > 0
    }
}

#[test]
fn a_line_at_rest_is_not_drawn_again_and_a_note_is() {
    let _stage = stage();
    let mut hall = Hall::open();
    let host = hall.share(4.0, &[]);
    hall.show();
    hall.wait_drawn();
    // What is left of the opening is drawn.
    hall.play(2.0, &[]);
    let before = hall.shot();
    let share = hall.share(4.0, &[]);
    println!(
        "at rest: {:.1} % of a processor, {:.1} % the host alone",
        100.0 * share,
        100.0 * host
    );
    assert_eq!(hall.shot().differing(&before), 0, "it has changed while nothing moved");
    assert!(share - host < SHARE_MAX, "at rest it takes {:.3} of a processor", share - host);
    let note = [(0, wheel(0.0, 90).1), (1, on(0.0, 69, 1).1)];
    let share = hall.share(4.0, &note);
    println!("while a note sounds: {:.1} % of a processor", 100.0 * share);
    assert!(hall.shot().differing(&before) > 0, "a note is not seen");
    hall.shot().keep("note");
    assert!(hall.changes(0.3, &[]), "a note that sounds is not seen to go on");
    hall.play(8.0, &[(0, off(0.0, 69, 1).1)]);
    assert!(!hall.changes(1.0, &[]), "the window does not come to rest again");
}
