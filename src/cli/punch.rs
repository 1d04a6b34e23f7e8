//! Puts bars of a new take into an old one, shaped or not.

use std::path::{Path, PathBuf};

use super::answer::{Answer, about, stored};
use super::performer::Performer;
use polso::offline::midi::write::write;
use polso::offline::midi::{File, read::read};
use polso::offline::peel::shaped_mark;
use polso::offline::punch::{punch, punch_shaped};
use polso::offline::save;
use polso::offline::stored_take::ShapedPlace;
use serde_json::json;

/// Put bars of a new take into an old one, joined within a bar
#[derive(clap::Args)]
#[command(mut_arg("instrument", |instrument| instrument.required(false)))]
#[command(mut_arg("bars", |bars| bars.required(true)))]
#[command(
    after_help = "Each note belongs to the take in which it begins; a new one ends with the \
    bars at the latest. A shaped take is peeled, punched and shaped again with what its marker \
    names; give -i and the like where that is not enough."
)]
pub struct PunchOptions {
    /// The old take, shaped or not
    old: PathBuf,
    /// The new take, whose bars they are; not shaped
    new: PathBuf,
    /// Where the result goes; - is standard output
    #[arg(short, long, value_name = "OUT.mid")]
    output: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Overwrite the output
    #[arg(long)]
    force: bool,
    /// Write no take beside a shaped result
    #[arg(long)]
    no_take: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &PunchOptions) -> Answer {
    match punch_files(options) {
        Ok(text) if save::is_standard(&options.output) => Answer::aside(text),
        Ok(text) => Answer::fine(text),
        Err(answer) => answer,
    }
}

fn punch_files(options: &PunchOptions) -> Result<String, Answer> {
    let PunchOptions { old, new, output, performer, force, no_take, json } = options;
    let bars = performer.taken.bars().map_err(Answer::bad_input)?;
    let bars = bars.ok_or_else(|| Answer::bad_input("--bars is missing"))?;
    save::check_output(old, output, *force).map_err(stored)?;
    save::check_output(new, output, *force).map_err(stored)?;
    let bytes = super::answer::take(old)?;
    let (first, second) = (parsed(old, &bytes)?, parsed(new, &super::answer::take(new)?)?);
    if shaped_mark(&second).is_some() {
        return Err(about(new, "the new take is shaped; peel it first"));
    }
    let told = |error: polso::offline::Error| about(old, error);
    let (files, reach, take) = match shaped_mark(&first) {
        Some(_) => {
            let given = performer.settings_if_named().map_err(Answer::bad_input)?;
            let punched =
                punch_shaped(&bytes, &second, bars, performer.taken.tracks(), given.as_ref());
            let punched = punched.map_err(told)?;
            let place = ShapedPlace { input: old, output, is_forced: *force, keeps_take: !no_take };
            let written = place.write_unnamed(&punched.shaped, &punched.take);
            let (files, take) = written.map_err(stored)?;
            (files, punched.reach, take)
        }
        None => {
            let punched = punch(&first, &second, bars, performer.taken.tracks()).map_err(told)?;
            let bytes = write(&punched).map_err(told)?;
            let file = save::write_unnamed(output, &bytes, *force).map_err(stored)?;
            (file.into_iter().collect(), None, None)
        }
    };
    save::name_all(vec![files]).into_iter().collect::<Result<(), _>>().map_err(stored)?;
    let reach = reach.map(|ends| ends.map(|(bar, beat)| format!("{bar}.{beat}")));
    if *json {
        let object = json!({
            "output": output.to_string_lossy(),
            "take": take.map(|take| take.to_string_lossy().into_owned()),
            "bars": bars.to_string(),
            "reach": reach,
        });
        return Ok(format!("{object}\n"));
    }
    let mut text = format!("bars {bars} of {} punched in\n", new.display());
    if let Some([from, to]) = reach {
        text += &format!("the shaped file is another from {from} to {to} and the same outside\n");
    }
    Ok(text)
}

fn parsed(path: &Path, bytes: &[u8]) -> Result<File, Answer> {
    read(bytes).map_err(|error| about(path, error))
}
