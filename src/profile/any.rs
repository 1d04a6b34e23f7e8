//! A file of which nobody has said yet what it is.

use super::about::Kind;
use super::document::Document;
use super::fault::{Fault, LoadError};
use super::log::{Field, Log};
use super::shipped::{Home, find};
use super::{About, Hand, Instrument, Loaded, Note, Target, check_document};

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
    pub fn load(name: &str) -> Result<Any, LoadError> {
        let found = find(None, name)?;
        Any::check_at(&found.bytes, &found.home)
            .map_err(|faults| LoadError::Faulty { name: name.to_owned(), faults })
    }

    /// Reads the bytes of a file. Fails with every fault, in order of lines.
    pub fn check(bytes: &[u8]) -> Result<Any, Vec<Fault>> {
        Any::check_at(bytes, &Home::Nowhere)
    }

    fn check_at(bytes: &[u8], home: &Home) -> Result<Any, Vec<Fault>> {
        let document = Document::from_bytes(bytes).map_err(|fault| vec![fault])?;
        let log = Log::new(&document, &[]);
        let kind = Kind::of(&log.root());
        match kind {
            Some(Kind::Instrument) => {
                check_document(document, home).map(|it| Any::Instrument(Box::new(it)))
            }
            Some(Kind::Target) => {
                check_document(document, home).map(|it| Any::Target(Box::new(it)))
            }
            Some(Kind::Hand) => check_document(document, home).map(|it| Any::Hand(Box::new(it))),
            None => {
                log.root().text("polso", "\"instrument\", \"target\" or \"hand\"", None, |_| false);
                Err(log.finish().0)
            }
        }
    }

    /// Which of the three.
    pub fn kind(&self) -> Kind {
        match self {
            Any::Instrument(_) => Kind::Instrument,
            Any::Target(_) => Kind::Target,
            Any::Hand(_) => Kind::Hand,
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
    pub fn notes(&self) -> &[Note] {
        match self {
            Any::Instrument(loaded) => &loaded.notes,
            Any::Target(loaded) => &loaded.notes,
            Any::Hand(loaded) => &loaded.notes,
        }
    }
}
