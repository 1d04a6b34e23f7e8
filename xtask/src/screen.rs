//! Runs what opens windows on an X display without a screen.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::steps::{self, cargo_command};

/// An X server of our own, which ends with it.
struct Screen {
    server: Child,
    display: String,
}

impl Screen {
    fn open() -> Result<Screen, String> {
        let mut server = Command::new("Xvfb");
        // It chooses a free number and says which on its output.
        server.args(["-displayfd", "1", "-screen", "0", "1600x1200x24", "-nolisten", "tcp"]);
        // It would begin anew whenever the last window has closed, and cut off who comes just then.
        server.arg("-noreset");
        let spawned = server.stdout(Stdio::piped()).stderr(Stdio::null()).spawn();
        let mut server = spawned.map_err(|error| format!("Xvfb cannot run: {error}"))?;
        let mut number = String::new();
        if let Some(output) = server.stdout.take() {
            let read = BufReader::new(output).read_line(&mut number);
            read.map_err(|error| format!("Xvfb says nothing: {error}"))?;
        }
        let screen = Screen { server, display: format!(":{}", number.trim()) };
        if number.trim().is_empty() { Err("Xvfb has no display".to_string()) } else { Ok(screen) }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// Runs cargo with a display, and with what else its tests are told. Other systems than Linux have no tests that need one.
pub fn run(root: &Path, words: &[&str], told: &[(&str, &str)]) -> Result<(), String> {
    if !cfg!(target_os = "linux") {
        println!("the plugin's window is tested on Linux alone; elsewhere open it in a host");
        return Ok(());
    }
    let screen = Screen::open()?;
    let mut command = cargo_command();
    command.args(words).current_dir(root).env("DISPLAY", &screen.display);
    command.envs(told.iter().copied());
    // See tests/window/openings.rs.
    command.env("MALLOC_ARENA_MAX", "2").env("LIBGL_ALWAYS_SOFTWARE", "1");
    steps::run(&mut command)
}
