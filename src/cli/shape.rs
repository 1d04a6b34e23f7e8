//! Reshapes a recorded take into a performed line.

use std::path::PathBuf;

use super::answer::{Answer, stored};
use super::performer::Performer;
use super::{batch, folder};
use polso::engine::REVISION;
use polso::offline::{save, shape_bytes};
use serde_json::json;

/// Reshape a recorded take: one gesture becomes everything a player's hands and breath would do
#[derive(clap::Args)]
pub struct ShapeOptions {
    /// The recorded take, a MIDI file; - is standard input. Several takes, or a folder of them,
    /// are shaped at once
    #[arg(required = true, value_name = "IN.mid")]
    inputs: Vec<PathBuf>,
    /// Where the performed line goes; - is standard output; of several takes, a folder
    #[arg(short, long, value_name = "OUT.mid")]
    output: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Overwrite the output; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Of several takes, how many at a time [default: one for each core]
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &ShapeOptions) -> Answer {
    if folder::is_batch(&options.inputs) {
        return many(options).unwrap_or_else(Answer::bad_input);
    }
    match shape(options) {
        Ok(text) if save::is_standard(&options.output) => Answer::aside(text),
        Ok(text) => Answer::fine(text),
        Err(answer) => answer,
    }
}

fn many(options: &ShapeOptions) -> Result<Answer, String> {
    let ShapeOptions { inputs, output, performer, force, jobs, json } = options;
    if performer.taken.wishes.is_some() {
        return Err("--wishes is for one take, not for several at once".to_owned());
    }
    if jobs.is_some_and(|jobs| !(1..=batch::JOBS_MAX).contains(&jobs)) {
        let jobs = jobs.unwrap_or_default();
        return Err(format!("--jobs is {jobs}; allowed is 1 to {}", batch::JOBS_MAX));
    }
    let settings = performer.settings(*force)?;
    let plan = folder::plan(inputs, output)?;
    Ok(batch::run(&plan, &settings, jobs.unwrap_or(0), *force, *json))
}

fn shape(options: &ShapeOptions) -> Result<String, Answer> {
    let ShapeOptions { inputs, output, performer, force, json, .. } = options;
    let input = &inputs[0];
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let bytes = super::answer::take(input)?;
    let shaped =
        shape_bytes(&bytes, &settings).map_err(|error| super::answer::about(input, error))?;
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
