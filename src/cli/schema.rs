//! Prints the JSON Schema of a kind of file, for editors and other programs.

use super::answer::Answer;
use polso::profile::{FileKind, schema};

/// The old name of show --schema
#[derive(clap::Args)]
pub struct SchemaOptions {
    /// Which of the three
    kind: SchemaKind,
    /// Print it on one line
    #[arg(long)]
    json: bool,
}

/// Which of the three files.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum SchemaKind {
    Instrument,
    Target,
    Hand,
}

pub fn run(options: &SchemaOptions) -> Answer {
    print(options.kind, options.json)
}

/// The schema, on one line for programs.
pub fn print(kind: SchemaKind, is_json: bool) -> Answer {
    let kind = match kind {
        SchemaKind::Instrument => FileKind::Instrument,
        SchemaKind::Target => FileKind::Target,
        SchemaKind::Hand => FileKind::Hand,
    };
    let schema = schema::schema(kind);
    Answer::fine(if is_json { format!("{schema}\n") } else { format!("{schema:#}\n") })
}
