//! Which instruments an instrument is based on: it says what differs, and all else comes from them.

use super::about::{FORMAT, Kind};
use super::document::Document;
use super::fault::{Fault, LoadError};
use super::origin::Origin;
use super::shipped::{Found, Home};
use super::written::{join, written};
use std::collections::BTreeSet;
use toml_edit::{Item, Table, TableLike, value};

/// The field that names the instrument on which a file is based.
pub(super) const BASED_ON: &str = "based_on";
/// How many files a file may be based on, one on the other: no family of instruments is deeper,
/// and a person can still follow it.
pub const ANCESTORS_MAX: usize = 4;
/// What `based_on` may be, for the sentence of a fault.
pub(super) const BASED_ON_RULE: &str =
    "a shipped instrument, or a file by a path that ends in .toml, from this file's folder";
/// Tables that speak of one file alone.
const OWN_TABLES: [&str; 2] = ["about", "origin"];

/// A file on which another one is based.
#[derive(Clone, Debug)]
pub struct Ancestor {
    /// Its name, as the younger file has it.
    pub name: String,
    /// Its text.
    pub document: Document,
}

/// The files on which `document`, which stands at `home`, is based, the nearest first. Fails with
/// what is wrong with the chain: not a text, unknown, not an instrument, in a circle, too long.
pub(super) fn of(document: &Document, home: &Home) -> Result<Vec<Ancestor>, Vec<Fault>> {
    let mut homes = vec![home.clone()];
    let mut ancestors: Vec<Ancestor> = Vec::new();
    loop {
        let youngest = ancestors.last();
        let young = youngest.map_or(document, |ancestor| &ancestor.document);
        let Some(item) = young.root().get(BASED_ON) else { return Ok(ancestors) };
        let refuse = |found: String, allowed: &str| {
            vec![Fault {
                line: young.line_of(BASED_ON),
                file: youngest.map(|ancestor| ancestor.name.clone()),
                field: BASED_ON.to_owned(),
                found,
                allowed: allowed.to_owned(),
            }]
        };
        let Some(name) = item.as_str() else { return Err(refuse(written(item), BASED_ON_RULE)) };
        if ancestors.len() == ANCESTORS_MAX {
            let found = format!("{name:?}, the file number {} of the chain", ANCESTORS_MAX + 1);
            return Err(refuse(found, &format!("a chain of at most {ANCESTORS_MAX} files")));
        }
        let Found { bytes, home } =
            homes[homes.len() - 1].parent(name).map_err(|error| not_found(error, &refuse))?;
        if homes.contains(&home) {
            let found = format!("{name:?}, which is based on this file itself");
            return Err(refuse(found, "an instrument that does not lead back here"));
        }
        let read = Document::from_bytes(&bytes);
        let parent = read.map_err(|fault| vec![Fault { file: Some(name.to_owned()), ..fault }])?;
        if let Some(found) = why_no_parent(&parent, name) {
            return Err(refuse(found, &format!("an instrument of format {FORMAT}")));
        }
        homes.push(home);
        let name = name.to_owned();
        ancestors.push(Ancestor { name, document: parent });
    }
}

fn not_found(error: LoadError, refuse: &impl Fn(String, &str) -> Vec<Fault>) -> Vec<Fault> {
    match error {
        LoadError::Unknown { name, nearest, .. } => refuse(
            format!("{name:?}"),
            &format!("{BASED_ON_RULE}; the nearest shipped is {nearest}"),
        ),
        LoadError::Unreadable { name, reason } => {
            refuse(format!("{name:?}, which cannot be read ({reason})"), BASED_ON_RULE)
        }
        LoadError::Faulty { name, faults } => {
            faults.into_iter().map(|fault| Fault { file: Some(name.clone()), ..fault }).collect()
        }
    }
}

/// Why nothing can be based on a file, if that is so.
fn why_no_parent(parent: &Document, name: &str) -> Option<String> {
    let kind = parent.root().get("polso").and_then(Item::as_str).unwrap_or("nothing known");
    let format = parent.root().get("format").and_then(Item::as_integer);
    match format {
        _ if kind != Kind::Instrument.name() => Some(format!("{name:?}, which is: {kind}")),
        Some(FORMAT) => None,
        Some(other) => Some(format!("{name:?}, which has format {other}")),
        None => Some(format!("{name:?}, which has no format")),
    }
}

/// The text of an instrument that stands alone: the file's own, with all that it takes over from
/// `ancestors` written out, and the origins beside the numbers. A file that is based on none stays
/// as it is, byte for byte.
pub(super) fn flatten(
    document: &Document,
    ancestors: &[Ancestor],
    known: &BTreeSet<String>,
    origins: &[Origin],
) -> String {
    if ancestors.is_empty() {
        return document.text().to_owned();
    }
    let mut whole = document.editable();
    whole.remove(BASED_ON);
    for ancestor in ancestors {
        take_over(whole.as_table_mut(), ancestor.document.root(), "", known);
    }
    let mut table = Table::new();
    for Origin { path, confidence, text } in origins {
        table.insert(path, value(format!("{}: {text}", confidence.letter())));
    }
    whole.insert("origin", Item::Table(table));
    whole.to_string()
}

fn take_over(young: &mut dyn TableLike, old: &dyn TableLike, path: &str, known: &BTreeSet<String>) {
    for (name, item) in old.iter() {
        let full = join(path, name);
        if full == BASED_ON || OWN_TABLES.contains(&&*full) || !known.contains(&full) {
            continue;
        }
        let Some(inner) = item.as_table_like() else {
            if !young.contains_key(name) {
                young.insert(name, item.clone());
            }
            continue;
        };
        if !young.contains_key(name) {
            young.insert(name, Item::Table(Table::new()));
        }
        let Some(mine) = young.get_mut(name) else { continue };
        if let Some(table) = mine.as_table_mut() {
            table.set_implicit(false);
        }
        if let Some(mine) = mine.as_table_like_mut() {
            take_over(mine, inner, &full, known);
        }
    }
}
