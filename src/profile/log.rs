//! Remembers what a file says and all that is wrong with it, so that nothing is told in pieces.

use super::based_on::Ancestor;
use super::document::Document;
use super::fault::{Fault, Remark, nearest};
use super::form::Form;
use super::value_text::{has_numbers, join};
use serde_json::Value as Json;
use std::cell::RefCell;
use std::collections::BTreeSet;
use toml_edit::TableLike;

/// How alike a known name must look to be offered for an unknown one.
const LIKENESS_MIN: f64 = 0.85;

/// For how many unknown fields of one file a known name is looked for.
const NEAREST_SOUGHT_MAX: usize = 64;

/// A field that was read, or its default where the file gives none.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// The dotted name.
    pub path: String,
    /// The line, counted from 1; `None` if the value is a default.
    pub line: Option<usize>,
    /// The file that gives it, where that is one on which the file is based.
    pub file: Option<String>,
    /// The value: a number, a text, a truth or a list of these.
    pub value: Json,
    /// What may stand there.
    pub allowed: String,
    /// The same for programs.
    pub form: Form,
}

/// Where something stands.
#[derive(Clone, Debug, Default)]
pub(super) struct FilePosition {
    /// The line, counted from 1.
    pub line: Option<usize>,
    /// The file, where that is one on which the file is based.
    pub file: Option<String>,
}

/// All that was learnt while a file was read.
pub struct Log<'a> {
    document: &'a Document,
    ancestors: &'a [Ancestor],
    faults: RefCell<Vec<Fault>>,
    notes: RefCell<Vec<Remark>>,
    fields: RefCell<Vec<Field>>,
    /// Tables and keys that belong to a file of this kind beside the fields.
    known: RefCell<BTreeSet<String>>,
}

impl<'a> Log<'a> {
    /// An empty log for `document`; what it does not say, the nearest of `ancestors` says.
    pub fn new(document: &'a Document, ancestors: &'a [Ancestor]) -> Log<'a> {
        Log {
            document,
            ancestors,
            faults: RefCell::default(),
            notes: RefCell::default(),
            fields: RefCell::default(),
            known: RefCell::default(),
        }
    }

    /// The outermost table of each file that speaks here: of the file itself, then of those on which
    /// it is based, the nearest first.
    pub(super) fn tables(&self) -> impl Iterator<Item = &'a dyn TableLike> {
        let documents = self.ancestors.iter().map(|ancestor| &ancestor.document);
        std::iter::once(self.document).chain(documents).map(Document::root)
    }

    /// How many files speak here: the file itself and those on which it is based.
    pub(super) fn layer_count(&self) -> usize {
        1 + self.ancestors.len()
    }

    /// The dotted names of all fields read so far.
    pub fn paths(&self) -> BTreeSet<String> {
        self.fields.borrow().iter().map(|field| field.path.clone()).collect()
    }

    /// The fields read so far that some file gives: each with the place of that file among those
    /// that speak here, 0 being the file itself.
    pub(super) fn given(&self) -> Vec<(String, usize)> {
        let layer = |file: &Option<String>| match file {
            None => Some(0),
            Some(file) => {
                let found = self.ancestors.iter().position(|ancestor| ancestor.name == *file);
                found.map(|place| place + 1)
            }
        };
        let fields = self.fields.borrow();
        let given = fields.iter().filter(|field| field.line.is_some());
        given.filter_map(|field| Some((field.path.clone(), layer(&field.file)?))).collect()
    }

    /// The names of the fields read so far to which the file itself gives numbers.
    pub fn given_numbers(&self) -> Vec<String> {
        let fields = self.fields.borrow();
        let is_own = |field: &&Field| field.line.is_some() && field.file.is_none();
        let given = fields.iter().filter(is_own).filter(|field| has_numbers(&field.value));
        given.map(|field| field.path.clone()).collect()
    }

    /// The place of a byte in the file itself, layer 0, or in one on which it is based.
    pub(super) fn place(&self, layer: usize, byte: usize) -> FilePosition {
        match layer.checked_sub(1).and_then(|place| self.ancestors.get(place)) {
            None => FilePosition { line: Some(self.document.line(byte)), file: None },
            Some(Ancestor { name, document }) => {
                FilePosition { line: Some(document.line(byte)), file: Some(name.clone()) }
            }
        }
    }

    /// All dotted names that a file of this kind may hold, as far as they have been asked for.
    pub(super) fn known(&self) -> BTreeSet<String> {
        let mut known = self.paths();
        known.extend(self.known.borrow().iter().cloned());
        known
    }

    /// Takes a fault down.
    pub(super) fn refuse(&self, fault: Fault) {
        self.faults.borrow_mut().push(fault);
    }

    /// Whether the field at `path` has been refused.
    pub(super) fn has_refused(&self, path: &str) -> bool {
        self.faults.borrow().iter().any(|fault| fault.field == path)
    }

    /// Takes a note down.
    pub(super) fn note(&self, note: Remark) {
        self.notes.borrow_mut().push(note);
    }

    /// Takes a field down.
    pub(super) fn remember(&self, field: Field) {
        self.fields.borrow_mut().push(field);
    }

    /// Says that files of this kind may hold something at `path`.
    pub(super) fn know(&self, path: String) {
        self.known.borrow_mut().insert(path);
    }

    /// The faults in order of lines, the fields in order of reading, and a note for each field
    /// that no file of this kind has.
    pub fn finish(self) -> (Vec<Fault>, Vec<Field>, Vec<Remark>) {
        let known = self.known();
        let mut notes = self.notes.take();
        self.note_unknown(self.document.root(), "", &known, &mut notes);
        notes.sort_by_key(|note| note.line);
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|fault| fault.line);
        (faults, self.fields.into_inner(), notes)
    }

    fn note_unknown(
        &self,
        table: &dyn TableLike,
        path: &str,
        known: &BTreeSet<String>,
        notes: &mut Vec<Remark>,
    ) {
        for (name, item) in table.iter() {
            let field = join(path, name);
            if known.contains(&field) {
                if let Some(inner) = item.as_table_like() {
                    self.note_unknown(inner, &field, known, notes);
                }
                continue;
            }
            let siblings = || known.iter().filter_map(|full| last_name(full, path));
            let like = match notes.len() < NEAREST_SOUGHT_MAX {
                true => nearest(name, siblings()).filter(|(_, score)| *score >= LIKENESS_MIN),
                false => None,
            };
            let sentence = match like {
                Some((like, _)) => format!("unknown field, kept; the nearest known one is {like}"),
                None => "unknown field, kept".to_owned(),
            };
            let line = table.get_key_value(name).and_then(|(key, _)| key.span());
            let line = line.map(|span| self.document.line(span.start));
            notes.push(Remark { line, field, sentence });
        }
    }
}

/// The name of `full` if it stands directly in the table `path`.
fn last_name<'a>(full: &'a str, path: &str) -> Option<&'a str> {
    let rest = if path.is_empty() { full } else { full.strip_prefix(path)?.strip_prefix('.')? };
    (!rest.contains('.')).then_some(rest)
}
