//! The program's verbs: each takes its options and gives an answer to print.

// In the order in which a new user needs them.
mod shape;

mod batch;
mod folder;

mod trace;

mod contrast;
mod peel;

mod audit;
mod plot;

mod list;

mod field_text;
mod show;
mod show_diff;

mod vet;

mod schema;

#[cfg(feature = "editor")]
mod edit;

mod performer;

use std::io::{self, Write};
use std::panic::{self, AssertUnwindSafe, PanicHookInfo};
use std::path::Path;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use polso::offline::midi::FILE_BYTES_MAX;
use polso::offline::save::{self, SaveError};

/// How a verb ended, as the caller's script sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Exit {
    Fine = 0,
    Findings = 1,
    BadInput = 2,
    OwnFault = 3,
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

    /// Fine, but standard output has carried the result already.
    fn aside(err: String) -> Answer {
        Answer { exit: Exit::Fine, out: String::new(), err }
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
    Shape(shape::Options),
    Trace(trace::TraceOptions),
    Peel(peel::Options),
    Contrast(contrast::ContrastOptions),
    Audit(audit::AuditOptions),
    Plot(plot::PlotOptions),
    List(list::ListOptions),
    Show(show::ShowOptions),
    Vet(vet::VetOptions),
    Schema(schema::SchemaOptions),
    #[cfg(feature = "editor")]
    Edit(edit::EditOptions),
}

/// Reads the command line, does what it says and prints the answer. A fault of the program's own
/// ends it with one sentence too.
pub fn run() -> ExitCode {
    panic::set_hook(Box::new(own_fault));
    let answer = panic::catch_unwind(AssertUnwindSafe(|| match Command::parse().verb {
        Verb::Shape(options) => shape::run(&options),
        Verb::Trace(options) => trace::run(&options),
        Verb::Peel(options) => peel::run(&options),
        Verb::Contrast(options) => contrast::run(&options),
        Verb::Audit(options) => audit::run(&options),
        Verb::Plot(options) => plot::run(&options),
        Verb::List(options) => list::run(&options),
        Verb::Show(options) => show::run(&options),
        Verb::Vet(options) => vet::run(&options),
        Verb::Schema(options) => schema::run(&options),
        #[cfg(feature = "editor")]
        Verb::Edit(options) => edit::run(&options),
    }));
    let Ok(answer) = answer else { return ExitCode::from(Exit::OwnFault as u8) };
    // A reader that has closed its end wants no more; that is no failure.
    let _ = io::stdout().write_all(answer.out.as_bytes());
    let _ = io::stderr().write_all(answer.err.as_bytes());
    ExitCode::from(answer.exit as u8)
}

fn own_fault(fault: &PanicHookInfo) {
    let text = fault.payload_as_str().unwrap_or("no more is known");
    let place = fault.location().map_or(String::new(), |place| format!(" at {place}"));
    let _ = writeln!(io::stderr(), "polso has a fault of its own{place}: {text}");
}

/// The bytes of a take.
fn take(path: &Path) -> Result<Vec<u8>, Answer> {
    save::read(path, FILE_BYTES_MAX).map_err(stored)
}

/// What is wrong with a file that was read.
fn about(path: &Path, error: impl ToString) -> Answer {
    let name = match save::is_standard(path) {
        true => "standard input".into(),
        false => path.to_string_lossy(),
    };
    Answer::bad_input(format!("{name}: {}", error.to_string()))
}

/// Why a file could not be read or written. A reader of ours that has closed its end wants no
/// more; that is no failure.
fn stored(error: SaveError) -> Answer {
    match &error {
        SaveError::System { path, source }
            if save::is_standard(path) && source.kind() == io::ErrorKind::BrokenPipe =>
        {
            Answer::fine(String::new())
        }
        _ => Answer::bad_input(error),
    }
}
