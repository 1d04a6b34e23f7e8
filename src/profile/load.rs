//! From the text of a file to what it means, or to every fault in it.

use super::about;
use super::based_on;
use super::document::Document;
use super::fault::{Fault, LoadError, Remark};
use super::flatten::flatten;
use super::kind::FileKind;
use super::log::{Field, Log};
use super::origin::FieldOrigin;
use super::shipped::{self, FoundFile, Home};
use super::table_reader::TableReader;

/// What a file of one kind means.
pub trait Profile: Sized {
    /// Which of the three.
    const KIND: FileKind;

    /// Reads every field of the outermost table. It never fails: faults go to the reader's log, and
    /// a value that is allowed stands in for each.
    fn read(root: &TableReader<'_>) -> Self;

    /// Where its numbers come from. Empty for targets and hands, which have no origins.
    fn origins(&self) -> &[FieldOrigin] {
        &[]
    }
}

/// A file that can be used, with its text and all that was learnt on the way.
#[derive(Clone, Debug)]
pub struct Loaded<T> {
    /// What the file means.
    pub profile: T,
    /// Its text, to be kept or changed.
    pub document: Document,
    /// Every field in the order of reading, defaults included.
    pub fields: Vec<Field>,
    /// What is worth a look.
    pub notes: Vec<Remark>,
    flattened: String,
}

impl<T> Loaded<T> {
    /// A text that stands alone: the file's own, or, where it is based on others, with all that it
    /// takes over written out. Read again, it means the same, whatever becomes of the others.
    pub fn flattened(&self) -> &str {
        &self.flattened
    }

    /// The line of the field with the dotted name `path`, counted from 1, if the file gives it.
    pub fn line_of(&self, path: &str) -> Option<usize> {
        self.fields.iter().find(|field| field.path == path)?.line
    }
}

/// Reads a file's text; a path in `based_on` starts from the working folder.
///
/// # Errors
/// Every fault of the file, in order of lines.
pub fn check<T: Profile>(text: &str) -> Result<Loaded<T>, Vec<Fault>> {
    check_document(Document::parse(text).map_err(|fault| vec![fault])?, &Home::Nowhere)
}

pub(super) fn check_document<T: Profile>(
    document: Document,
    home: &Home,
) -> Result<Loaded<T>, Vec<Fault>> {
    let own = Log::new(&document, &[]);
    if !about::read_header(&TableReader::root(&own), T::KIND) {
        return Err(own.finish().0);
    }
    let ancestors = match T::KIND {
        FileKind::Instrument => based_on::ancestors(&document, home)?,
        FileKind::Target | FileKind::Hand => Vec::new(),
    };
    let log = Log::new(&document, &ancestors);
    let root = TableReader::root(&log);
    about::read_header(&root, T::KIND);
    let profile = T::read(&root);
    let flattened = flatten(&document, &ancestors, &log.known(), profile.origins());
    let (faults, fields, notes) = log.finish();
    if faults.is_empty() {
        Ok(Loaded { profile, document, fields, notes, flattened })
    } else {
        Err(faults)
    }
}

/// The shipped file called `name`, or the file at the path `name`.
///
/// # Errors
/// There is neither, the file cannot be read from disk, or it has faults: then all of them.
pub fn load<T: Profile>(name: &str) -> Result<Loaded<T>, LoadError> {
    let faulty = |faults| LoadError::Faulty { name: name.to_owned(), faults };
    let FoundFile { bytes, home } = shipped::find(Some(T::KIND), name)?;
    let document = Document::from_bytes(&bytes).map_err(|fault| faulty(vec![fault]))?;
    check_document(document, &home).map_err(faulty)
}
