//! The command line: which verb, what it answers, and how the program ends.

use std::io::{self, Write};
use std::panic::{self, AssertUnwindSafe, PanicHookInfo};
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use serde_json::json;

use super::answer::{Answer, Exit};
use super::{
    audit, contrast, edit, hear, help, list, look, peel, plot, punch, schema, shape, show, trace,
    vet,
};

/// One gesture becomes dynamics, vibrato, style, legato and the end of the phrase.
#[derive(Parser)]
#[command(version)]
struct Command {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    Look(look::LookOptions),
    Shape(shape::ShapeOptions),
    Hear(hear::HearOptions),
    Trace(trace::TraceOptions),
    Peel(peel::PeelOptions),
    Punch(punch::PunchOptions),
    Contrast(contrast::ContrastOptions),
    Audit(audit::AuditOptions),
    Plot(plot::PlotOptions),
    List(list::ListOptions),
    Show(show::ShowOptions),
    Vet(vet::VetOptions),
    #[command(hide = true)]
    Schema(schema::SchemaOptions),
    Edit(edit::EditOptions),
}

/// Reads the command line, does what it says and prints the answer. A fault of the program's own
/// ends it with one sentence too.
pub fn run() -> ExitCode {
    panic::set_hook(Box::new(own_fault));
    let is_json = std::env::args_os().skip(1).any(|word| word == "--json");
    let matches = help::grouped(Command::command()).try_get_matches();
    let verb = match matches.and_then(|matches| Command::from_arg_matches(&matches)) {
        Ok(command) => command.verb,
        Err(error) if is_json && error.use_stderr() => {
            let _ = io::stderr().write_all(error_object(&error.to_string()).as_bytes());
            return ExitCode::from(Exit::BadInput as u8);
        }
        Err(error) => error.exit(),
    };
    let answer = panic::catch_unwind(AssertUnwindSafe(|| match verb {
        Verb::Look(options) => look::run(&options),
        Verb::Shape(options) => shape::run(&options),
        Verb::Hear(options) => hear::run(&options),
        Verb::Trace(options) => trace::run(&options),
        Verb::Peel(options) => peel::run(&options),
        Verb::Punch(options) => punch::run(&options),
        Verb::Contrast(options) => contrast::run(&options),
        Verb::Audit(options) => audit::run(&options),
        Verb::Plot(options) => plot::run(&options),
        Verb::List(options) => list::run(&options),
        Verb::Show(options) => show::run(&options),
        Verb::Vet(options) => vet::run(&options),
        Verb::Schema(options) => schema::run(&options),
        Verb::Edit(options) => edit::run(&options),
    }));
    let Ok(answer) = answer else { return ExitCode::from(Exit::OwnFault as u8) };
    let answer = printed(answer);
    let err = match is_json && answer.exit == Exit::BadInput && !answer.err.is_empty() {
        true => error_object(&answer.err),
        false => answer.err,
    };
    let _ = io::stderr().write_all(err.as_bytes());
    ExitCode::from(answer.exit as u8)
}

/// Prints what is for standard output. A reader that has closed its end wants no more; that is no
/// failure, but a disk that is full is.
fn printed(answer: Answer) -> Answer {
    if answer.out.is_empty() {
        return answer;
    }
    let mut out = io::stdout().lock();
    let done = out.write_all(answer.out.as_bytes()).and_then(|()| out.flush());
    match done {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            let err = format!("{}standard output: {error}\n", answer.err);
            Answer { exit: Exit::BadInput, out: String::new(), err }
        }
        _ => answer,
    }
}

/// What is wrong, for a program to read. It goes to standard error: standard output carries what
/// the verb makes.
fn error_object(text: &str) -> String {
    format!("{}\n", json!({ "error": text.trim_end() }))
}

fn own_fault(fault: &PanicHookInfo) {
    let text = fault.payload_as_str().unwrap_or("no more is known");
    let place = fault.location().map_or(String::new(), |place| format!(" at {place}"));
    let _ = writeln!(io::stderr(), "polso has a fault of its own{place}: {text}");
}
