//! Runs the chores one after the other, each with its time, and says at the end which failed.

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::Instant;

/// The plugin with its window; one build of it serves every step.
pub const PLUGIN: [&str; 3] = ["--no-default-features", "--features", "plugin,editor"];

/// The steps run so far: name, seconds, success.
#[derive(Default)]
pub struct Steps {
    done: Vec<(&'static str, f64, bool)>,
}

impl Steps {
    /// Runs one step, prints its name and its time, and remembers whether it failed.
    pub fn run(&mut self, name: &'static str, step: impl FnOnce() -> Result<(), String>) {
        println!("== {name}");
        let start = Instant::now();
        let result = step();
        let time_s = start.elapsed().as_secs_f64();
        match &result {
            Ok(()) => println!("== {name}: fine, {time_s:.1} s\n"),
            Err(sentence) => println!("== {name}: FAILED, {time_s:.1} s: {sentence}\n"),
        }
        self.done.push((name, time_s, result.is_ok()));
    }

    /// The closing table, and failure if any step failed.
    pub fn close(self) -> ExitCode {
        let total_s: f64 = self.done.iter().map(|(_, time_s, _)| time_s).sum();
        for (name, time_s, fine) in &self.done {
            println!("{} {time_s:7.1} s  {name}", if *fine { "fine  " } else { "FAILED" });
        }
        println!("       {total_s:7.1} s  together");
        let fine = self.done.iter().all(|(.., fine)| *fine);
        if fine { ExitCode::SUCCESS } else { ExitCode::FAILURE }
    }
}

/// Runs cargo in the workspace.
pub fn cargo(root: &Path, words: &[&str]) -> Result<(), String> {
    run(cargo_command().args(words).current_dir(root))
}

/// The cargo that runs these chores.
pub fn cargo_command() -> Command {
    Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

/// Runs a command with its output shown; a sentence if it fails.
pub fn run(command: &mut Command) -> Result<(), String> {
    let said = said(command);
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("`{said}` ended with {status}")),
        Err(error) => Err(format!("`{said}` cannot run: {error}")),
    }
}

/// Runs a command and takes what it prints; a sentence with what it said if it fails.
pub fn read(command: &mut Command) -> Result<String, String> {
    let said = said(command);
    let output = command.output().map_err(|error| format!("`{said}` cannot run: {error}"))?;
    if output.status.success() {
        Ok(String::from_utf8_lossy(&output.stdout).into_owned())
    } else {
        let error = String::from_utf8_lossy(&output.stderr);
        Err(format!("`{said}` ended with {}: {}", output.status, error.trim()))
    }
}

/// The command as one would type it.
fn said(command: &Command) -> String {
    let program = Path::new(command.get_program()).file_name().unwrap_or(command.get_program());
    let words = std::iter::once(program).chain(command.get_args());
    words.map(OsStr::to_string_lossy).collect::<Vec<_>>().join(" ")
}
