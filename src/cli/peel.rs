//! Gives the take back that a shaped file was made from.

use std::path::PathBuf;

use super::answer::{Answer, about, stored};
use polso::offline::midi;
use polso::offline::peel::{Peeled, peel};
use polso::offline::save;
use serde_json::json;

/// Get the take back out of a shaped file
#[derive(clap::Args)]
#[command(after_help = "What shape added is taken out, and what it consumed is put back.")]
pub struct PeelOptions {
    /// The shaped file; - is standard input
    input: PathBuf,
    /// Where the take goes; - is standard output
    #[arg(short, long, value_name = "OUT.mid")]
    output: PathBuf,
    /// Overwrite the output
    #[arg(long)]
    force: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &PeelOptions) -> Answer {
    match peel_file(options) {
        Ok(text) if save::is_standard(&options.output) => Answer::aside(text),
        Ok(text) => Answer::fine(text),
        Err(answer) => answer,
    }
}

fn peel_file(options: &PeelOptions) -> Result<String, Answer> {
    let PeelOptions { input, output, force, json } = options;
    save::check_output(input, output, *force).map_err(stored)?;
    let bytes = super::answer::take(input)?;
    let file = midi::read::read(&bytes).map_err(|error| about(input, error))?;
    let peeled = peel(file).map_err(|error| about(input, error))?;
    let other_revision = peeled.other_revision();
    let Peeled { file, removed_count, restored_count, engine, leftovers } = peeled;
    let bytes = midi::write::write(&file).map_err(|error| about(input, error))?;
    save::write(output, &bytes, *force).map_err(stored)?;
    if *json {
        let object = json!({
            "output": output.to_string_lossy(),
            "removed": removed_count,
            "restored": restored_count,
            "engine": engine,
            "is_exact": leftovers.is_empty(),
            "leftovers": leftovers,
        });
        return Ok(format!("{object}\n"));
    }
    let mut text =
        format!("{removed_count} messages taken out, {restored_count} events put back\n");
    match leftovers.is_empty() {
        true => text.push_str("the take is exactly as it was\n"),
        false => leftovers.iter().for_each(|line| text.push_str(&format!("left       {line}\n"))),
    }
    if let Some(sentence) = other_revision {
        text.push_str(&format!("revision   {sentence}\n"));
    }
    Ok(text)
}
