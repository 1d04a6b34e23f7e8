//! Prints the line as a table: one row for every moment, with what sounds and why.

use std::path::{Path, PathBuf};

use super::performer::Performer;
use super::{Answer, stored};
use polso::offline::save;
use polso::offline::trace::{EVERY_MS_MAX, trace_bytes};
use serde_json::json;

/// Print what sounds at every moment of a take, and why, as comma-separated values
#[derive(clap::Args)]
pub struct Options {
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

pub fn run(options: &Options) -> Answer {
    trace(options).unwrap_or_else(|answer| answer)
}

fn trace(options: &Options) -> Result<Answer, Answer> {
    let Options { input, performer, every, output, force, json } = options;
    if !(1..=EVERY_MS_MAX).contains(every) {
        let sentence = format!("--every is {every}; allowed is 1 to {EVERY_MS_MAX}");
        return Err(Answer::bad_input(sentence));
    }
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let bytes = super::take(input)?;
    let traced =
        trace_bytes(&bytes, &settings, *every).map_err(|error| super::about(input, error))?;
    let is_standard = save::is_standard(output);
    if *json && is_standard {
        let object = json!({ "notices": traced.notices, "rows": rows(&traced.csv) });
        return Ok(Answer::fine(format!("{object}\n")));
    }
    save::write(output, traced.csv.as_bytes(), *force).map_err(stored)?;
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

/// The table as objects: numbers where a cell is a number, null where it is empty.
fn rows(csv: &str) -> Vec<serde_json::Value> {
    let mut lines = csv.lines();
    let names: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    let cell = |text: &str| match text.parse::<f64>() {
        Ok(number) => json!(number),
        Err(_) if text.is_empty() => serde_json::Value::Null,
        Err(_) => json!(text),
    };
    let row = |line: &str| {
        let cells = names.iter().zip(line.split(','));
        cells.map(|(name, text)| (name.to_string(), cell(text))).collect::<serde_json::Map<_, _>>()
    };
    lines.map(|line| row(line).into()).collect()
}
