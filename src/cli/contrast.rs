//! Says what differs between two files, or between a file and a fresh shape of its take.

use std::path::{Path, PathBuf};

use super::answer::{Answer, Exit, about};
use super::lanes::LaneOptions;
use super::performer::Performer;
use polso::offline::contrast::{Tolerance, as_json, as_text, contrast};
use polso::offline::midi::{File, read::read};
use polso::offline::shape_over_lanes;
use polso::offline::stored_take::StoredTake;

/// Say what differs between two files
#[derive(clap::Args)]
#[command(mut_arg("instrument", |instrument| instrument.required(false)))]
#[command(mut_group("TakenAs", |taken| taken.requires("instrument")))]
#[command(after_help = "Exit code 0 if the files are the same, 1 if they differ. \
    Cents of the bend are those of the range that the file tells (RPN 0), or of 2 semitones.")]
pub struct ContrastOptions {
    /// The first file; - is standard input
    first: PathBuf,
    /// The second file, or with --fresh a take [default with --fresh: the take inside the first]
    second: Option<PathBuf>,
    /// Compare with a fresh shape of the take, for the instrument that -i names
    #[arg(long)]
    fresh: bool,
    /// How far two values may lie apart: 2steps, 5cents, 1.5ms; may be repeated
    #[arg(long, value_name = "SIZE")]
    within: Vec<String>,
    #[command(flatten)]
    performer: Option<Performer>,
    #[command(flatten)]
    lanes: LaneOptions,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &ContrastOptions) -> Answer {
    compare(options).unwrap_or_else(|answer| answer)
}

fn compare(options: &ContrastOptions) -> Result<Answer, Answer> {
    let mut within = Tolerance::default();
    for text in &options.within {
        let one: Tolerance =
            text.parse().map_err(|sentence: String| Answer::bad_input(sentence))?;
        within = within.and(one);
    }
    let first_take = super::answer::stored_take(&options.first)?;
    let first = parsed(&options.first, &first_take.bytes)?;
    let second = match (&options.performer, options.fresh, &options.second) {
        (Some(performer), true, take) => {
            let settings = performer.settings(true).map_err(Answer::bad_input)?;
            let path = take.as_ref().unwrap_or(&options.first);
            let take: StoredTake = match take {
                Some(path) => super::answer::stored_take(path)?,
                None => first_take,
            };
            let shaped = shape_over_lanes(take.as_take(), &settings, options.lanes.rule())
                .map_err(|error| about(path, error))?;
            parsed(path, &shaped.bytes)?
        }
        (None, true, _) => {
            return Err(Answer::bad_input("--fresh needs an instrument: -i NAME"));
        }
        (Some(_), false, _) => {
            return Err(Answer::bad_input("an instrument is given without --fresh"));
        }
        (None, false, Some(path)) => parsed(path, &super::answer::take(path)?)?,
        (None, false, None) => {
            let sentence = "there is one file only; give a second one, or --fresh and -i NAME";
            return Err(Answer::bad_input(sentence));
        }
    };
    let found = contrast(&first, &second, &within).map_err(Answer::bad_input)?;
    let exit = if found.differences.is_empty() { Exit::Fine } else { Exit::Findings };
    let out = if options.json { as_json(&found) } else { as_text(&found) };
    Ok(Answer { exit, out, err: String::new() })
}

fn parsed(path: &Path, bytes: &[u8]) -> Result<File, Answer> {
    read(bytes).map_err(|error| about(path, error))
}
