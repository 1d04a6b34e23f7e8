//! Lists the instruments, receivers and hands that come with the program.

use super::answer::Answer;
use polso::profile::shipped::SHIPPED;
use polso::profile::{About, FileKind, Hand, Instrument, LoadError, Target, load};
use serde_json::{Value as Json, json};

/// List the instruments, targets and hands there are
#[derive(clap::Args)]
pub struct ListOptions {
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// What the list says about one file.
struct ListedFile {
    kind: FileKind,
    /// Instruments have one.
    family: Option<&'static str>,
    about: About,
}

pub fn run(options: &ListOptions) -> Answer {
    let entries: Result<Vec<ListedFile>, LoadError> = SHIPPED.iter().map(entry).collect();
    match entries {
        Err(error) => Answer::bad_input(error),
        Ok(mut entries) => {
            entries.sort_by_key(|entry| (entry.kind, entry.family));
            Answer::fine(if options.json { as_json(&entries) } else { as_text(&entries) })
        }
    }
}

fn entry(shipped: &polso::profile::shipped::Shipped) -> Result<ListedFile, LoadError> {
    let (family, about) = match shipped.kind {
        FileKind::Instrument => {
            let instrument = load::<Instrument>(shipped.id)?.profile;
            (Some(instrument.family.name()), instrument.about)
        }
        FileKind::Target => (None, load::<Target>(shipped.id)?.profile.about),
        FileKind::Hand => (None, load::<Hand>(shipped.id)?.profile.about),
    };
    Ok(ListedFile { kind: shipped.kind, family, about })
}

fn as_text(entries: &[ListedFile]) -> String {
    let mut text = String::new();
    let mut last = String::new();
    let widest = entries.iter().map(|entry| entry.about.id.len()).max().unwrap_or(0);
    for entry in entries {
        let heading = match entry.family {
            Some(family) => format!("{}s, {family}", entry.kind.name()),
            None => format!("{}s", entry.kind.name()),
        };
        if heading != last {
            let gap = if last.is_empty() { "" } else { "\n" };
            text += &format!("{gap}{heading}\n");
            last = heading;
        }
        text += &format!("  {:widest$}  {}\n", entry.about.id, different_names(&entry.about));
    }
    text
}

/// Every name once; languages often share one.
fn different_names(about: &About) -> String {
    let mut names: Vec<&str> = Vec::new();
    for (_, name) in &about.names {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    names.join(", ")
}

fn as_json(entries: &[ListedFile]) -> String {
    let of_kind = |kind: FileKind| {
        let each = |entry: &ListedFile| {
            let names: serde_json::Map<String, Json> = entry
                .about
                .names
                .iter()
                .map(|(language, name)| (language.clone(), json!(name)))
                .collect();
            let mut object = json!({ "id": entry.about.id, "names": names });
            if let Some(family) = entry.family {
                object["family"] = json!(family);
            }
            object
        };
        entries.iter().filter(|entry| entry.kind == kind).map(each).collect::<Vec<_>>()
    };
    let object = json!({
        "instruments": of_kind(FileKind::Instrument),
        "targets": of_kind(FileKind::Target),
        "hands": of_kind(FileKind::Hand),
    });
    format!("{object}\n")
}
