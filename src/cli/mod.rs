//! The program's verbs: each takes its options and gives an answer to print.

// In the order in which a new user needs them.
mod list;
mod show;
mod vet;

use clap::{Parser, Subcommand};
use std::io::Write;
use std::process::ExitCode;

/// How a verb ended, as the caller's script sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Exit {
    Fine = 0,
    Findings = 1,
    BadInput = 2,
}

/// What a verb has to say.
struct Answer {
    exit: Exit,
    /// For standard output.
    out: String,
    /// For standard error.
    err: String,
}

impl Answer {
    fn fine(out: String) -> Answer {
        Answer { exit: Exit::Fine, out, err: String::new() }
    }

    fn bad_input(error: impl ToString) -> Answer {
        Answer { exit: Exit::BadInput, out: String::new(), err: format!("{}\n", error.to_string()) }
    }
}

/// One gesture becomes dynamics, vibrato, style, legato and the end of the phrase.
#[derive(Parser)]
#[command(version)]
struct Command {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    Vet(vet::Options),
    List(list::Options),
    Show(show::Options),
}

/// Reads the command line, does what it says and prints the answer.
pub fn run() -> ExitCode {
    let answer = match Command::parse().verb {
        Verb::Vet(options) => vet::run(&options),
        Verb::List(options) => list::run(&options),
        Verb::Show(options) => show::run(&options),
    };
    // A reader that has closed its end wants no more; that is no failure.
    let _ = std::io::stdout().write_all(answer.out.as_bytes());
    let _ = std::io::stderr().write_all(answer.err.as_bytes());
    ExitCode::from(answer.exit as u8)
}
