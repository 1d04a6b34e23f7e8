//! Writes out what an instrument takes over from those on which it is based, so that its text stands alone.

use super::based_on::{Ancestor, BASED_ON};
use super::document::Document;
use super::origin::FieldOrigin;
use super::value_text::join;
use std::collections::BTreeSet;
use toml_edit::{Item, Table, TableLike, value};

/// Tables that speak of one file alone.
const OWN_TABLES: [&str; 2] = ["about", "origin"];

/// The text of an instrument that stands alone: the file's own, with all that it takes over from
/// `ancestors` written out, and the origins beside the numbers. A file that is based on none stays
/// as it is, byte for byte.
pub(super) fn flatten(
    document: &Document,
    ancestors: &[Ancestor],
    known: &BTreeSet<String>,
    origins: &[FieldOrigin],
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
    for FieldOrigin { path, confidence, text } in origins {
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
