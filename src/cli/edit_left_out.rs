//! The window's verb in a program that was built without it: it says how to get one.

use std::ffi::OsString;

use super::answer::Answer;

pub use self::WindowWords as EditOptions;

/// Bend the curves of a line in a window (not in this build)
#[derive(clap::Args)]
pub struct WindowWords {
    /// What edit takes in a build with a window
    #[arg(trailing_var_arg = true, allow_hyphen_values = true, hide = true)]
    words: Vec<OsString>,
}

pub fn run(options: &WindowWords) -> Answer {
    let words = options.words.iter().map(|word| format!(" {}", word.to_string_lossy()));
    let words: String = words.collect();
    Answer::bad_input(format!(
        "this program was built without the window; from the source, \
         `cargo run --release --features editor -- edit{words}` builds it and opens it"
    ))
}
