//! Reshapes a recorded take into a performed line.

use std::path::PathBuf;

use super::answer::{Answer, stored, stored_take};
use super::batch::{self, Batch};
use super::folder;
use super::lanes::LaneOptions;
use super::performer::Performer;
use polso::engine::REVISION;
use polso::offline::shape::idle_seed;
use polso::offline::stored_take::ShapedPlace;
use polso::offline::{save, shape_over_lanes};
use serde_json::json;

/// Make a recorded take a performed line
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
    #[command(flatten)]
    lanes: LaneOptions,
    /// Overwrite the output; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Write no take beside the performed line. Else OUT.take.mid beside OUT.mid is the take once
    /// more, for peel if a program saves the line without its record
    #[arg(long)]
    no_take: bool,
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
    let ShapeOptions { inputs, output, performer, lanes, force, no_take, jobs, json } = options;
    if performer.taken.wishes.is_some() {
        return Err("--wishes is for one take, not for several at once".to_owned());
    }
    if jobs.is_some_and(|jobs| !(1..=batch::JOBS_MAX).contains(&jobs)) {
        let jobs = jobs.unwrap_or_default();
        return Err(format!("--jobs is {jobs}; allowed is 1 to {}", batch::JOBS_MAX));
    }
    let settings = performer.settings(*force)?;
    let plan = folder::plan(inputs, output)?;
    let batch = Batch { settings, lanes: lanes.rule(), is_forced: *force, keeps_take: !no_take };
    Ok(batch.run(&plan, jobs.unwrap_or(0), *json))
}

fn shape(options: &ShapeOptions) -> Result<String, Answer> {
    let ShapeOptions { inputs, output, performer, lanes, force, no_take, json, .. } = options;
    let input = &inputs[0];
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let take = stored_take(input)?;
    let told = |error| super::answer::about(input, error);
    let (bytes, rule) = (take.as_take(), lanes.rule());
    let mut shaped = shape_over_lanes(bytes, &settings, rule).map_err(told)?;
    let idle = idle_seed(bytes, &settings, rule, &shaped).map_err(told)?;
    shaped.report.notices.extend(idle);
    let place = ShapedPlace { input, output, is_forced: *force, keeps_take: !no_take };
    let (files, take) = place.write_unnamed(&shaped, &take.bytes).map_err(stored)?;
    save::name_all(vec![files]).into_iter().collect::<Result<(), _>>().map_err(stored)?;
    if !json {
        let take = take.map(|take| format!("take       {} keeps it\n", take.display()));
        return Ok(format!("{}{}", shaped.report, take.unwrap_or_default()));
    }
    let object = json!({
        "output": output.to_string_lossy(),
        "take": take.map(|take| take.to_string_lossy().into_owned()),
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
