//! Prints the JSON Schema of a kind of file, for editors and other programs.

use super::answer::Answer;
use polso::profile::{FileKind, schema};

/// Print the JSON Schema of instrument, target or hand files
#[derive(clap::Args)]
pub struct SchemaOptions {
    /// Which of the three
    kind: Which,
    /// Print it on one line
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, clap::ValueEnum)]
enum Which {
    Instrument,
    Target,
    Hand,
}

pub fn run(options: &SchemaOptions) -> Answer {
    let kind = match options.kind {
        Which::Instrument => FileKind::Instrument,
        Which::Target => FileKind::Target,
        Which::Hand => FileKind::Hand,
    };
    let schema = schema::schema(kind);
    Answer::fine(if options.json { format!("{schema}\n") } else { format!("{schema:#}\n") })
}
