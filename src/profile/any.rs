//! An instrument, a target or a hand: whichever of the three a file turns out to be.

use super::about::{About, kind_named};
use super::document::Document;
use super::fault::{Fault, LoadError, Remark};
use super::hand::Hand;
use super::instrument::Instrument;
use super::kind::FileKind;
use super::load::{Loaded, check_document};
use super::log::{Field, Log};
use super::shipped::{Home, find};
use super::table_reader::TableReader;
use super::target::Target;

/// One of the three, as its first line says.
#[derive(Clone, Debug)]
pub enum Any {
    /// The music.
    Instrument(Box<Loaded<Instrument>>),
    /// The receiver's addresses.
    Target(Box<Loaded<Target>>),
    /// The player's own controller.
    Hand(Box<Loaded<Hand>>),
}

impl Any {
    /// The shipped file called `name`, or the file at the path `name`.
    ///
    /// # Errors
    /// There is neither, the file cannot be read from disk, or it has faults: then all of them.
    pub fn load(name: &str) -> Result<Any, LoadError> {
        let found = find(None, name)?;
        Any::check_at(&found.bytes, &found.home)
            .map_err(|faults| LoadError::Faulty { name: name.to_owned(), faults })
    }

    /// Reads the bytes of a file; a path in `based_on` starts from the working folder.
    ///
    /// # Errors
    /// Every fault, in order of lines.
    pub fn check(bytes: &[u8]) -> Result<Any, Vec<Fault>> {
        Any::check_at(bytes, &Home::Nowhere)
    }

    fn check_at(bytes: &[u8], home: &Home) -> Result<Any, Vec<Fault>> {
        let document = Document::from_bytes(bytes).map_err(|fault| vec![fault])?;
        let log = Log::new(&document, &[]);
        let root = TableReader::root(&log);
        match kind_named(&root) {
            Some(FileKind::Instrument) => {
                check_document(document, home).map(|it| Any::Instrument(Box::new(it)))
            }
            Some(FileKind::Target) => {
                check_document(document, home).map(|it| Any::Target(Box::new(it)))
            }
            Some(FileKind::Hand) => {
                check_document(document, home).map(|it| Any::Hand(Box::new(it)))
            }
            None => {
                root.text("polso", "\"instrument\", \"target\" or \"hand\"", None, |_| false);
                Err(log.finish().0)
            }
        }
    }

    /// Which of the three.
    pub fn kind(&self) -> FileKind {
        match self {
            Any::Instrument(_) => FileKind::Instrument,
            Any::Target(_) => FileKind::Target,
            Any::Hand(_) => FileKind::Hand,
        }
    }

    /// The instrument, if it is one.
    pub fn instrument(&self) -> Option<&Loaded<Instrument>> {
        if let Any::Instrument(loaded) = self { Some(loaded) } else { None }
    }

    /// The target, if it is one.
    pub fn target(&self) -> Option<&Loaded<Target>> {
        if let Any::Target(loaded) = self { Some(loaded) } else { None }
    }

    /// The hand, if it is one.
    pub fn hand(&self) -> Option<&Loaded<Hand>> {
        if let Any::Hand(loaded) = self { Some(loaded) } else { None }
    }

    /// Who and what it is.
    pub fn about(&self) -> &About {
        match self {
            Any::Instrument(loaded) => &loaded.profile.about,
            Any::Target(loaded) => &loaded.profile.about,
            Any::Hand(loaded) => &loaded.profile.about,
        }
    }

    /// Every field in the order of reading, defaults included.
    pub fn fields(&self) -> &[Field] {
        match self {
            Any::Instrument(loaded) => &loaded.fields,
            Any::Target(loaded) => &loaded.fields,
            Any::Hand(loaded) => &loaded.fields,
        }
    }

    /// What is worth a look.
    pub fn notes(&self) -> &[Remark] {
        match self {
            Any::Instrument(loaded) => &loaded.notes,
            Any::Target(loaded) => &loaded.notes,
            Any::Hand(loaded) => &loaded.notes,
        }
    }
}
