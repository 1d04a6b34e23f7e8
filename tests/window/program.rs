//! The program's own window is drawn whenever it is opened, and closes when it is told to.

use std::thread;
use std::time::{Duration, Instant};

use polso::editor::window;

use super::black::{drawn_s, openings};
use super::layout::fresh_editor;
use super::screen::{Parent, Screen};
use super::stage::stage;

/// By then it has come to the display.
const PATIENCE: Duration = Duration::from_secs(10);
/// From asking to be shown to being shown.
const PAUSES: [Duration; 3] =
    [Duration::ZERO, Duration::from_millis(20), Duration::from_millis(200)];

/// The next window that asks to be shown.
fn asking(screen: &Screen) -> Parent {
    let start = Instant::now();
    loop {
        if let Some(window) = screen.asking() {
            return window;
        }
        assert!(start.elapsed() < PATIENCE, "no window asks to be shown");
        thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn the_window_of_the_program_is_never_black() {
    let _stage = stage();
    let screen = Screen::open();
    screen.manage();
    for number in 0..openings() {
        let editor = fresh_editor();
        let program = thread::spawn(move || window::open("a take", editor));
        let window = asking(&screen);
        // A window manager has a frame to draw first.
        thread::sleep(PAUSES[number % PAUSES.len()]);
        screen.show(&window);
        let shown = Instant::now();
        while !screen.shot(&window).is_drawn() {
            assert!(shown.elapsed().as_secs_f64() < drawn_s(), "opening {number} is black");
            thread::sleep(Duration::from_millis(10));
        }
        screen.ask_to_close(&window);
        program.join().expect("it ends").expect("in peace");
    }
}
