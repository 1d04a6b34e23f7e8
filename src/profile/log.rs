//! Collects every field and every fault while a file is read, so that all faults can be told at once.

use super::based_on::Ancestor;
use super::document::Document;
use super::fault::{Fault, Remark, nearest};
use super::form::Form;
use super::value_text::{has_numbers, join};
use serde_json::Value as Json;
use std::cell::RefCell;
use std::collections::{BTreeSet, HashSet};
use toml_edit::TableLike;

/// How similar a known name must be to be offered for an unknown one, 0..=1 (Jaro-Winkler).
const LIKENESS_MIN: f64 = 0.85;

/// For how many unknown fields of one file a similar known name is looked for: a bound on the time.
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

/// Where something stands in the text of a file.
#[derive(Clone, Debug, Default)]
pub(super) struct FilePosition {
    /// The line, counted from 1.
    pub line: Option<usize>,
    /// The name of the file, where that is one on which the file is based.
    pub file: Option<String>,
}

/// All that was learnt while a file was read.
pub struct Log<'a> {
    document: &'a Document,
    ancestors: &'a [Ancestor],
    faults: RefCell<Vec<Fault>>,
    /// The dotted names of the fields that have faults.
    refused: RefCell<HashSet<String>>,
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
            refused: RefCell::default(),
            notes: RefCell::default(),
            fields: RefCell::default(),
            known: RefCell::default(),
        }
    }

    /// The outermost table of each file that is read: of the file itself, then of those on which it
    /// is based, the nearest first.
    pub(super) fn tables(&self) -> impl Iterator<Item = &'a dyn TableLike> {
        let documents = self.ancestors.iter().map(|ancestor| &ancestor.document);
        std::iter::once(self.document).chain(documents).map(Document::root)
    }

    /// How many files are read as one: the file itself and those on which it is based.
    pub(super) fn generation_count(&self) -> usize {
        1 + self.ancestors.len()
    }

    /// The dotted names of all fields read so far.
    pub fn paths(&self) -> BTreeSet<String> {
        self.fields.borrow().iter().map(|field| field.path.clone()).collect()
    }

    /// The fields read so far that some file gives: each with the number of that file, 0 being the
    /// file itself, 1 the one on which it is based, and so on.
    pub(super) fn given(&self) -> Vec<(String, usize)> {
        let generation = |file: &Option<String>| match file {
            None => Some(0),
            Some(file) => {
                let found = self.ancestors.iter().position(|ancestor| ancestor.name == *file);
                found.map(|place| place + 1)
            }
        };
        let fields = self.fields.borrow();
        let given = fields.iter().filter(|field| field.line.is_some());
        given.filter_map(|field| Some((field.path.clone(), generation(&field.file)?))).collect()
    }

    /// The names of the fields read so far to which the file itself gives numbers.
    pub fn given_numbers(&self) -> Vec<String> {
        let fields = self.fields.borrow();
        let is_own = |field: &&Field| field.line.is_some() && field.file.is_none();
        let given = fields.iter().filter(is_own).filter(|field| has_numbers(&field.value));
        given.map(|field| field.path.clone()).collect()
    }

    /// The position of a byte in the file with the number `generation`: 0 is the file itself.
    pub(super) fn place(&self, generation: usize, byte: usize) -> FilePosition {
        match generation.checked_sub(1).and_then(|place| self.ancestors.get(place)) {
            None => FilePosition { line: Some(self.document.line(byte)), file: None },
            Some(Ancestor { name, document }) => {
                FilePosition { line: Some(document.line(byte)), file: Some(name.clone()) }
            }
        }
    }

    /// All dotted names that a file of this kind may hold, as far as the readers have asked for
    /// them.
    pub(super) fn known(&self) -> BTreeSet<String> {
        let mut known = self.paths();
        known.extend(self.known.borrow().iter().cloned());
        known
    }

    /// Notes down a fault.
    pub(super) fn refuse(&self, fault: Fault) {
        self.refused.borrow_mut().insert(fault.field.clone());
        self.faults.borrow_mut().push(fault);
    }

    /// Whether the field at `path` has been refused.
    pub(super) fn has_refused(&self, path: &str) -> bool {
        self.refused.borrow().contains(path)
    }

    /// Notes down a remark.
    pub(super) fn note(&self, note: Remark) {
        self.notes.borrow_mut().push(note);
    }

    /// Notes down a field that was read.
    pub(super) fn remember(&self, field: Field) {
        self.fields.borrow_mut().push(field);
    }

    /// Says that files of this kind may hold something at `path`.
    pub(super) fn know(&self, path: String) {
        self.known.borrow_mut().insert(path);
    }

    /// The faults in order of lines, the fields in order of reading, and the remarks in order of
    /// lines, with one for each field that no file of this kind has.
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
            let is_slip = like.is_some_and(|(like, _)| strsim::osa_distance(name, like) == 1);
            let sentence = match like {
                Some((like, _)) => format!("unknown field, kept; the nearest known one is {like}"),
                None => "unknown field, kept".to_owned(),
            };
            let line = table.get_key_value(name).and_then(|(key, _)| key.span());
            let line = line.map(|span| self.document.line(span.start));
            notes.push(Remark { line, field, sentence, is_slip });
        }
    }
}

/// The name of `full` if it stands directly in the table `path`.
fn last_name<'a>(full: &'a str, path: &str) -> Option<&'a str> {
    let rest = if path.is_empty() { full } else { full.strip_prefix(path)?.strip_prefix('.')? };
    (!rest.contains('.')).then_some(rest)
}
