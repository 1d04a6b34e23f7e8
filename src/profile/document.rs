//! The text of a file as its author wrote it: comments, order and unknown fields stay.

use super::fault::Fault;
use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

/// The longest file that is read, bytes. The shipped ones have a few thousand.
pub const FILE_BYTES_MAX: usize = 1024 * 1024;

/// A file's text together with its parsed form. Only well-formed TOML becomes one.
#[derive(Clone, Debug)]
pub struct Document {
    parsed: toml_edit::Document<String>,
    /// Where each line after the first begins, in bytes.
    line_starts: Vec<usize>,
}

impl Document {
    /// Reads `text`.
    ///
    /// # Errors
    /// It is longer than [`FILE_BYTES_MAX`], or not TOML; the fault has the line.
    pub fn parse(text: &str) -> Result<Document, Fault> {
        if text.len() > FILE_BYTES_MAX {
            return Err(whole_file(
                format!("{} bytes long", text.len()),
                format!("at most {FILE_BYTES_MAX} bytes"),
            ));
        }
        let parsed = toml_edit::Document::parse(text.to_owned()).map_err(|error| {
            let line = error.span().map(|span| line_of(text, span.start));
            let found = format!("not TOML here ({})", error.message());
            Fault { line, ..whole_file(found, "TOML 1.0".to_owned()) }
        })?;
        let line_starts = text.match_indices('\n').map(|(at, _)| at + 1).collect();
        Ok(Document { parsed, line_starts })
    }

    /// Reads `bytes`.
    ///
    /// # Errors
    /// They are not UTF-8, or as [`Document::parse`].
    pub fn from_bytes(bytes: &[u8]) -> Result<Document, Fault> {
        match std::str::from_utf8(bytes) {
            Ok(text) => Document::parse(text),
            Err(error) => {
                let found = format!("not text at byte {}", error.valid_up_to());
                Err(whole_file(found, "UTF-8".to_owned()))
            }
        }
    }

    /// The text, byte for byte as it was read or last set.
    pub fn text(&self) -> &str {
        self.parsed.raw()
    }

    /// Gives the field with the dotted name `path` another value and leaves all else in the text as
    /// it is, comments on its line too. False if there is no such field.
    pub fn set(&mut self, path: &str, value: impl Into<Value>) -> bool {
        let mut edited = self.editable();
        let Some(old) = find(edited.as_table_mut(), path).and_then(Item::as_value_mut) else {
            return false;
        };
        let mut value = value.into();
        *value.decor_mut() = old.decor().clone();
        *old = value;
        let Ok(document) = Document::parse(&edited.to_string()) else {
            return false;
        };
        *self = document;
        true
    }

    /// The text with `value` in a field; `keys` are the names of its tables, the outermost first,
    /// and its own name. A value that is there is replaced and keeps the comment on its line;
    /// tables that the file lacks are made. `None` if a key names a value where a table should be,
    /// or a table where the field should be.
    pub fn with(&self, keys: &[&str], value: impl Into<Value>) -> Option<String> {
        let mut edited = self.editable();
        let (name, way) = keys.split_last()?;
        let mut table: &mut dyn TableLike = edited.as_table_mut();
        for key in way {
            if !table.contains_key(key) {
                table.insert(key, Item::Table(Table::new()));
            }
            table = table.get_mut(key)?.as_table_like_mut()?;
        }
        let mut value = value.into();
        match table.get_mut(name) {
            Some(item) => {
                let old = item.as_value_mut()?;
                *value.decor_mut() = old.decor().clone();
                *old = value;
            }
            None => drop(table.insert(name, Item::Value(value))),
        }
        Some(edited.to_string())
    }

    /// The text without the field or table that `keys` name, as in [`Document::with`]; `None` if it
    /// is not there.
    pub fn without_key(&self, keys: &[&str]) -> Option<String> {
        let mut edited = self.editable();
        let (name, way) = keys.split_last()?;
        let mut table: &mut dyn TableLike = edited.as_table_mut();
        for key in way {
            table = table.get_mut(key)?.as_table_like_mut()?;
        }
        table.remove(name)?;
        Some(edited.to_string())
    }

    /// The value of the field that `keys` name, as in [`Document::with`], if this file gives it.
    pub fn value(&self, keys: &[&str]) -> Option<&Value> {
        let (name, way) = keys.split_last()?;
        let mut table = self.root();
        for key in way {
            table = table.get(key)?.as_table_like()?;
        }
        table.get(name)?.as_value()
    }

    /// The text in a form that can be changed.
    pub(super) fn editable(&self) -> DocumentMut {
        self.parsed.clone().into_mut()
    }

    /// The line of a field of the outermost table.
    pub(super) fn line_of(&self, name: &str) -> Option<usize> {
        let (key, item) = self.parsed.as_table().get_key_value(name)?;
        let span = item.span().or_else(|| key.span())?;
        Some(self.line(span.start))
    }

    /// The text without the table or the field at the dotted `path`, if it has that.
    pub(super) fn without(&self, path: &str) -> Option<String> {
        let mut edited = self.editable();
        let (table, name) = match path.rsplit_once('.') {
            None => (edited.as_table_mut() as &mut dyn TableLike, path),
            Some((table, name)) => (find(edited.as_table_mut(), table)?.as_table_like_mut()?, name),
        };
        table.remove(name)?;
        Some(edited.to_string())
    }

    /// The outermost table.
    pub(super) fn root(&self) -> &dyn TableLike {
        self.parsed.as_table()
    }

    /// The line of a byte, counted from 1.
    pub(super) fn line(&self, byte: usize) -> usize {
        self.line_starts.partition_point(|&start| start <= byte) + 1
    }
}

fn find<'a>(table: &'a mut dyn TableLike, path: &str) -> Option<&'a mut Item> {
    match path.split_once('.') {
        None => table.get_mut(path),
        Some((name, rest)) => find(table.get_mut(name)?.as_table_like_mut()?, rest),
    }
}

fn whole_file(found: String, allowed: String) -> Fault {
    Fault { line: None, file: None, field: "the file".to_owned(), found, allowed }
}

fn line_of(text: &str, byte: usize) -> usize {
    let before = &text.as_bytes()[..byte.min(text.len())];
    before.iter().filter(|&&each| each == b'\n').count() + 1
}
