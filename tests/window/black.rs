//! No window stays black, whenever its host shows it and however busy the machine is.

use std::time::{Duration, Instant};

use super::hall::Hall;
use super::sample::{figure, is_whole};
use super::stage::{Playing, stage};

/// By then a window shows its picture, seconds after the host has shown it: in a full count, on a
/// quiet machine; and in a usual run, since a busy one draws late. What is lost is black for ever.
pub fn drawn_s() -> f64 {
    if is_whole() { 1.0 } else { 5.0 }
}

/// From making a window to showing it, milliseconds: at once, within the library's own rhythm of
/// 16 ms, and as a host does that has something else to do first.
const PAUSES_MS: [u64; 5] = [0, 8, 16, 60, 250];

/// How often a window is opened, in a usual run and for a full count.
pub fn openings() -> usize {
    if is_whole() { 100 } else { 10 }
}

/// Which of so many windows stay black, and in words.
fn black(hall: &mut Hall, openings: usize) -> (Vec<String>, String) {
    let mut black = Vec::new();
    let mut longest_s: f64 = 0.0;
    for number in 0..openings {
        let pause_ms = PAUSES_MS[number % PAUSES_MS.len()];
        hall.show_after(Duration::from_millis(pause_ms));
        let shown = Instant::now();
        while !hall.shot().is_drawn() && shown.elapsed().as_secs_f64() < drawn_s() {
            hall.wait(0.01);
        }
        if hall.shot().is_drawn() {
            longest_s = longest_s.max(shown.elapsed().as_secs_f64());
        } else {
            black.push(format!("opening {number}, shown after {pause_ms} ms"));
        }
        hall.hide();
    }
    let count = black.len();
    let sentence =
        format!("{count} of {openings} windows black, drawn in {longest_s:.2} s at most");
    println!("{sentence}");
    (black, sentence)
}

fn check_none_black(hall: &mut Hall, name: &str) {
    let (black, sentence) = black(hall, openings());
    figure(&format!("window-{name}"), &format!("{name}: {sentence}"));
    assert!(black.is_empty(), "black after {} s: {}", drawn_s(), black.join("; "));
}

#[test]
fn a_window_over_a_line_at_rest_is_never_black() {
    let _stage = stage();
    check_none_black(&mut Hall::open(), "at rest");
}

#[test]
fn a_window_over_a_playing_line_is_never_black() {
    let _stage = stage();
    let mut hall = Hall::open();
    let playing = Playing::start(&mut hall);
    check_none_black(&mut hall, "playing");
    playing.stop(&mut hall);
}
