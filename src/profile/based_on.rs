//! Which instruments an instrument is based on: it says what differs, and all else comes from them.

use super::document::Document;
use super::fault::{Fault, LoadError};
use super::kind::{FORMAT, FileKind};
use super::shipped::{FoundFile, Home};
use super::value_text::written;
use toml_edit::Item;

/// The field that names the instrument on which a file is based.
pub(super) const BASED_ON: &str = "based_on";
/// How many files a file may be based on, one on the other: no family of instruments is deeper,
/// and a person can still follow it.
pub const ANCESTORS_MAX: usize = 4;
/// What `based_on` may be, for the sentence of a fault.
pub(super) const BASED_ON_RULE: &str =
    "a shipped instrument, or a file by a path that ends in .toml, from this file's folder";

/// A file on which another one is based.
#[derive(Clone, Debug)]
pub struct Ancestor {
    /// Its name, as the younger file has it.
    pub name: String,
    /// Its text.
    pub document: Document,
}

/// The files on which `document`, which stands at `home`, is based, the nearest first; at most
/// [`ANCESTORS_MAX`].
///
/// # Errors
/// What is wrong with the chain: not a text, unknown, not an instrument, in a circle, too long.
pub(super) fn ancestors(document: &Document, home: &Home) -> Result<Vec<Ancestor>, Vec<Fault>> {
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
        let FoundFile { bytes, home } =
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
        LoadError::Ambiguous { name, ids } => refuse(format!("{name:?}"), &format!("one of {ids}")),
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
        _ if kind != FileKind::Instrument.name() => Some(format!("{name:?}, which is: {kind}")),
        Some(FORMAT) => None,
        Some(other) => Some(format!("{name:?}, which has format {other}")),
        None => Some(format!("{name:?}, which has no format")),
    }
}
