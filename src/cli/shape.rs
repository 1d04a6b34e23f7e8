//! Reshapes a recorded take into a performed line.

use std::path::PathBuf;

use super::performer::Performer;
use super::{Answer, stored};
use polso::engine::REVISION;
use polso::offline::{save, shape_bytes};
use serde_json::json;

/// Reshape a recorded take: one gesture becomes everything a player's hands and breath would do
#[derive(clap::Args)]
pub struct Options {
    /// The recorded take, a MIDI file; - is standard input
    input: PathBuf,
    /// Where the performed line goes; - is standard output
    #[arg(short, long, value_name = "OUT.mid")]
    output: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Overwrite the output; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &Options) -> Answer {
    match shape(options) {
        Ok(text) if save::is_standard(&options.output) => Answer::aside(text),
        Ok(text) => Answer::fine(text),
        Err(answer) => answer,
    }
}

fn shape(options: &Options) -> Result<String, Answer> {
    let Options { input, output, performer, force, json } = options;
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let bytes = super::take(input)?;
    let shaped = shape_bytes(&bytes, &settings).map_err(|error| super::about(input, error))?;
    save::write(output, &shaped.bytes, *force).map_err(stored)?;
    if !json {
        return Ok(shaped.report.to_string());
    }
    let object = json!({
        "output": output.to_string_lossy(),
        "bytes": shaped.bytes.len(),
        "engine": REVISION,
        "instrument": settings.provenance.instrument,
        "target": settings.provenance.target,
        "hand": settings.provenance.hand,
        "seed": settings.patch.seed,
        "imperfection": settings.imperfection,
        "report": shaped.report,
    });
    Ok(format!("{object}\n"))
}
