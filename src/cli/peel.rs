//! Gives the take back that a shaped file was made from.

use std::path::PathBuf;

use super::answer::{Answer, about, stored, stored_take};
use polso::offline::midi::read::read;
use polso::offline::peel::{GivenBack, KeepingPlace, Peeled, give_back};
use polso::offline::save;
use polso::offline::stored_take::place_beside;
use serde_json::json;

/// Get the take back out of a shaped file
#[derive(clap::Args)]
#[command(after_help = "What shape added is taken out, and what it consumed is put back.")]
pub struct PeelOptions {
    /// The shaped file; - is standard input. If a program has saved it without its record, the take
    /// beside it is used: OUT.take.mid beside OUT.mid
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
    let take = stored_take(input)?;
    let take = take.as_take();
    let given = read(take.bytes).and_then(|file| give_back(file, take.beside));
    let GivenBack { bytes, peeled } = given.map_err(|error| about(input, error))?;
    let other_revision = peeled.other_revision();
    let Peeled { place, removed_count, restored_count, engine, leftovers, notices, .. } = peeled;
    save::write(output, &bytes, *force).map_err(stored)?;
    if *json {
        let object = json!({
            "output": output.to_string_lossy(),
            "removed": removed_count,
            "restored": restored_count,
            "engine": engine,
            "from": if place == KeepingPlace::File { "file" } else { "beside" },
            "is_exact": leftovers.is_empty(),
            "leftovers": leftovers,
            "notices": notices,
        });
        return Ok(format!("{object}\n"));
    }
    let mut text = match place {
        KeepingPlace::File => format!(
            "{removed_count} messages taken out, {restored_count} events put back, from the file \
             itself\n"
        ),
        KeepingPlace::Beside => {
            format!("from the take beside it, {}\n", place_beside(input).display())
        }
    };
    match leftovers.is_empty() {
        true => text.push_str("the take is exactly as it was\n"),
        false => leftovers.iter().for_each(|line| text.push_str(&format!("left       {line}\n"))),
    }
    notices.iter().for_each(|line| text.push_str(&format!("note       {line}\n")));
    if let Some(sentence) = other_revision {
        text.push_str(&format!("revision   {sentence}\n"));
    }
    Ok(text)
}
