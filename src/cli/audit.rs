//! Says what a live player could not play, before the part goes out.

use std::path::PathBuf;

use super::performer::Performer;
use super::{Answer, Exit};
use polso::offline::audit::{as_json, as_text, audit_bytes};

/// Say what a live player could not play, by bar and beat
#[derive(clap::Args)]
pub struct Options {
    /// The recorded take, a MIDI file; - is standard input
    input: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &Options) -> Answer {
    audit(options).unwrap_or_else(|answer| answer)
}

fn audit(options: &Options) -> Result<Answer, Answer> {
    let Options { input, performer, force, json } = options;
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    let instrument = performer.instrument().map_err(Answer::bad_input)?;
    let bytes = super::take(input)?;
    let audit =
        audit_bytes(&bytes, &settings, &instrument).map_err(|error| super::about(input, error))?;
    let exit = if audit.findings.is_empty() { Exit::Fine } else { Exit::Findings };
    let out = if *json { as_json(&audit) } else { as_text(&audit) };
    let notices = audit.notices.iter().map(|notice| format!("{notice}\n"));
    Ok(Answer { exit, out, err: notices.collect() })
}
