//! Where the numbers of an instrument come from, and how far they can be trusted.

use super::fault::Remark;
use super::table_reader::TableReader;
use std::collections::BTreeSet;

/// How far a number can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// Published or undisputed.
    High,
    /// Several sources, or players' guides.
    Middle,
    /// A judgement.
    Low,
}

impl Confidence {
    /// H, M or L.
    pub const fn letter(self) -> char {
        match self {
            Confidence::High => 'H',
            Confidence::Middle => 'M',
            Confidence::Low => 'L',
        }
    }

    /// Published, shared or judged: the word for people.
    pub const fn word(self) -> &'static str {
        match self {
            Confidence::High => "high",
            Confidence::Middle => "middle",
            Confidence::Low => "low",
        }
    }
}

/// Where one number, or all numbers of one table, come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldOrigin {
    /// The dotted name of the field or of the table.
    pub path: String,
    /// How far it can be trusted.
    pub confidence: Confidence,
    /// The source, in a few words.
    pub text: String,
}

/// The origin of the field at `path`: its own, or that of the table around it.
pub fn of<'a>(origins: &'a [FieldOrigin], path: &str) -> Option<&'a FieldOrigin> {
    let own = origins.iter().find(|origin| origin.path == path);
    own.or_else(|| of(origins, path.rsplit_once('.')?.0))
}

/// Reads the table `origin`, whose keys are names of fields or tables that the file has. Where the
/// file is based on others, every field has its origin by its own name.
pub(super) fn read(root: &TableReader<'_>) -> Vec<FieldOrigin> {
    let paths = with_tables(root.log().paths());
    let count = root.log().generation_count();
    let mut generations: Vec<Vec<FieldOrigin>> = (0..count)
        .map(|generation| read_generation(&root.only(generation), &paths, generation == 0))
        .collect();
    let origins = match count {
        1 => generations.remove(0),
        _ => inherited(root.log().given(), &generations),
    };
    note_missing(root, &origins);
    origins
}

/// The origins in one file. In one on which the file is based, names that are unknown here have
/// their meaning there.
fn read_generation(
    root: &TableReader<'_>,
    paths: &BTreeSet<String>,
    is_own: bool,
) -> Vec<FieldOrigin> {
    let table = root.table("origin");
    let mut origins = Vec::new();
    for path in table.names() {
        let rule = "\"H: …\", \"M: …\" or \"L: …\" with a few words on the source";
        table.accept(path);
        if !paths.contains(path) {
            if is_own {
                let allowed = "the name of a field or a table";
                table.refuse(path, "the origin of no field", allowed);
            }
            continue;
        }
        let Some(written) = table.plain_text(path) else {
            table.refuse(path, "no text", rule);
            continue;
        };
        match split(written) {
            Some((confidence, text)) => {
                let text = text.to_owned();
                origins.push(FieldOrigin { path: path.to_owned(), confidence, text });
            }
            None => table.refuse(path, format!("{written:?}"), rule),
        }
    }
    origins
}

/// The origin of each given field: by its own name in the file that gives it or in a younger one,
/// or of the table around it in the very file that gives it. So a number that a file changes does
/// not keep the origin of the number before.
fn inherited(given: Vec<(String, usize)>, generations: &[Vec<FieldOrigin>]) -> Vec<FieldOrigin> {
    let origin = |(path, generation): (String, usize)| {
        let mut named = generations[..=generation].iter().flatten();
        let found = named
            .find(|origin| origin.path == path)
            .or_else(|| of(&generations[generation], &path));
        found.map(|origin| FieldOrigin { path, ..origin.clone() })
    };
    given.into_iter().filter_map(origin).collect()
}

fn note_missing(root: &TableReader<'_>, origins: &[FieldOrigin]) {
    let is_fact = |path: &str| path == "format" || of(origins, path).is_some();
    let bare: Vec<String> =
        root.log().given_numbers().into_iter().filter(|path| !is_fact(path)).collect();
    if bare.is_empty() {
        return;
    }
    let sentence = format!("no origin is given for {}", bare.join(", "));
    let line = root.only(0).place_of("origin").and_then(|place| place.line);
    root.log().note(Remark { line, field: "origin".to_owned(), sentence, is_slip: false });
}

fn split(written: &str) -> Option<(Confidence, &str)> {
    let (letter, text) = written.split_once(':')?;
    let all = [Confidence::High, Confidence::Middle, Confidence::Low];
    let confidence = all.into_iter().find(|each| each.letter().to_string() == letter)?;
    let text = text.trim();
    let is_said = !text.is_empty() && !text.chars().any(char::is_control);
    is_said.then_some((confidence, text))
}

fn with_tables(paths: BTreeSet<String>) -> BTreeSet<String> {
    let mut all = paths.clone();
    for path in &paths {
        all.extend(path.match_indices('.').map(|(at, _)| path[..at].to_owned()));
    }
    all
}
