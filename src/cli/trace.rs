//! Prints the line as a table: one row for every moment, with what sounds and why.

use std::io::{self, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

use super::answer::{Answer, about, stored};
use super::performer::Performer;
use polso::offline::Settings;
use polso::offline::peel::TakeBytes;
use polso::offline::save::{self, SafeWriter, SaveError};
use polso::offline::trace::{EVERY_MS_MAX, TraceError, Traced, trace_bytes};
use serde_json::json;

/// Print what sounds at every moment, and why
#[derive(clap::Args)]
pub struct TraceOptions {
    /// The recorded take, a MIDI file; - is standard input
    input: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// A row every so many milliseconds
    #[arg(long, value_name = "MS", default_value_t = 1)]
    every: u32,
    /// Where the table goes; - is standard output
    #[arg(short, long, value_name = "FILE.csv", default_value = "-")]
    output: PathBuf,
    /// Overwrite the output; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Say where the table went, or print the table itself, as one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &TraceOptions) -> Answer {
    trace(options).unwrap_or_else(|answer| answer)
}

fn trace(options: &TraceOptions) -> Result<Answer, Answer> {
    let TraceOptions { input, performer, every, output, force, json } = options;
    if !(1..=EVERY_MS_MAX).contains(every) {
        let sentence = format!("--every is {every}; allowed is 1 to {EVERY_MS_MAX}");
        return Err(Answer::bad_input(sentence));
    }
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let take = super::answer::stored_take(input)?;
    let is_standard = save::is_standard(output);
    if *json && is_standard {
        return objects(options, take.as_take(), &settings);
    }
    let mut file = None;
    let traced = trace_bytes(take.as_take(), &settings, *every, |row| {
        // What is wrong with the take is said before a file is begun.
        let file = match &mut file {
            Some(file) => file,
            None => file.insert(SafeWriter::create(output, *force)?),
        };
        file.write(row.as_bytes())
    });
    let traced = traced.map_err(|error| refused(input, error))?;
    file.map_or(Ok(()), SafeWriter::finish).map_err(stored)?;
    let notices: String = traced.notices.iter().map(|notice| format!("{notice}\n")).collect();
    let said = match json {
        true => told(output, traced.row_count, &traced.notices),
        false if is_standard => String::new(),
        false => format!("{} rows in {}\n", traced.row_count, output.display()),
    };
    let mut answer = Answer::fine(said);
    if !json {
        answer.err = notices;
    }
    Ok(answer)
}

fn told(output: &Path, row_count: usize, notices: &[String]) -> String {
    let output = output.to_string_lossy();
    format!("{}\n", json!({ "output": output, "row_count": row_count, "notices": notices }))
}

/// Why there is no table.
fn refused(input: &Path, error: TraceError<SaveError>) -> Answer {
    match error {
        TraceError::Take(error) => about(input, error),
        TraceError::Row(error) => stored(error),
    }
}

/// The table as one JSON object on standard output. The notices stand before the rows and are
/// known after them, so the rows wait in a file.
fn objects(options: &TraceOptions, take: TakeBytes, settings: &Settings) -> Result<Answer, Answer> {
    let standard = |source| SaveError::System { path: options.output.clone(), source };
    let mut rows = BufWriter::new(save::nameless().map_err(stored)?);
    let mut names: Vec<String> = Vec::new();
    let mut between = "";
    let traced = trace_bytes(take, settings, options.every, |row| {
        let cells = row.trim_end().split(',');
        if names.is_empty() {
            names.extend(cells.map(str::to_owned));
            return Ok(());
        }
        let row = object(&names, cells);
        let written = write!(rows, "{between}{row}");
        between = ",";
        written.map_err(standard)
    });
    let Traced { notices, .. } = traced.map_err(|error| refused(&options.input, error))?;
    print(&notices, rows).map_err(|error| stored(standard(error)))?;
    Ok(Answer::fine(String::new()))
}

fn print(notices: &[String], rows: BufWriter<std::fs::File>) -> io::Result<()> {
    let mut rows = rows.into_inner().map_err(io::IntoInnerError::into_error)?;
    rows.rewind()?;
    let mut out = io::stdout().lock();
    write!(out, "{{\"notices\":{},\"rows\":[", json!(notices))?;
    io::copy(&mut rows, &mut out)?;
    out.write_all(b"]}\n")?;
    out.flush()
}

/// A row as an object: numbers where a cell is a number, null where it is empty.
fn object<'a>(names: &[String], cells: impl Iterator<Item = &'a str>) -> serde_json::Value {
    let cell = |text: &str| match text.parse::<f64>() {
        Ok(number) => json!(number),
        Err(_) if text.is_empty() => serde_json::Value::Null,
        Err(_) => json!(text),
    };
    let cells = names.iter().zip(cells);
    cells.map(|(name, text)| (name.clone(), cell(text))).collect::<serde_json::Map<_, _>>().into()
}
