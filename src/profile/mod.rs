//! The three files that say what is played, who hears it and whose hand it is.
//!
//! An instrument is music, a target is a receiver's addresses, a hand is the player's own
//! controller. [`patch()`] puts one of each together for the engine.

// From the text to the engine's settings.
pub mod document;
pub mod fault;
pub mod form;
pub mod lineage;
pub mod log;
mod points;
pub mod section;
mod written;

pub mod about;
pub mod address;
pub mod articulation;
pub mod origin;

pub mod instrument;
pub mod vibrato;

pub mod output;
pub mod target;

pub mod hand;

pub mod patch;

pub mod any;
pub mod pitch;
pub mod schema;
pub mod shipped;

pub use about::{About, Kind};
pub use any::Any;
pub use document::Document;
pub use fault::{Fault, LoadError, Note};
pub use hand::Hand;
pub use instrument::Instrument;
pub use log::Field;
pub use patch::{Mismatch, PatchError, patch};
pub use target::Target;

use crate::engine::patch::Source;
use log::Log;
use origin::Origin;
use section::Section;
use shipped::{Found, Home};

/// A file of one kind.
pub trait Profile: Sized {
    /// Which of the three.
    const KIND: Kind;

    /// Reads every field; faults go to the section's log, stand-ins to the result.
    fn read(root: &Section<'_>) -> Self;

    /// Where its numbers come from.
    fn origins(&self) -> &[Origin] {
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
    pub notes: Vec<Note>,
    flattened: String,
}

impl<T> Loaded<T> {
    /// A text that stands alone: the file's own, or, where it is based on others, with all that it
    /// takes over written out. Read again, it means the same, whatever becomes of the others.
    pub fn flattened(&self) -> &str {
        &self.flattened
    }

    /// The line of a field, if the file gives it.
    pub fn line_of(&self, path: &str) -> Option<usize> {
        self.fields.iter().find(|field| field.path == path)?.line
    }
}

/// Reads a file's text. Fails with every fault of the file, in order of lines.
pub fn check<T: Profile>(text: &str) -> Result<Loaded<T>, Vec<Fault>> {
    check_document(Document::parse(text).map_err(|fault| vec![fault])?, &Home::Nowhere)
}

fn check_document<T: Profile>(document: Document, home: &Home) -> Result<Loaded<T>, Vec<Fault>> {
    let own = Log::new(&document, &[]);
    if !about::read_header(&own.root(), T::KIND) {
        return Err(own.finish().0);
    }
    let ancestors = match T::KIND {
        Kind::Instrument => lineage::of(&document, home)?,
        Kind::Target | Kind::Hand => Vec::new(),
    };
    let log = Log::new(&document, &ancestors);
    let root = log.root();
    about::read_header(&root, T::KIND);
    let profile = T::read(&root);
    let flattened = lineage::flatten(&document, &ancestors, &log.known(), profile.origins());
    let (faults, fields, notes) = log.finish();
    if faults.is_empty() {
        Ok(Loaded { profile, document, fields, notes, flattened })
    } else {
        Err(faults)
    }
}

/// The shipped file called `name`, or the file at the path `name`.
pub fn load<T: Profile>(name: &str) -> Result<Loaded<T>, LoadError> {
    let faulty = |faults| LoadError::Faulty { name: name.to_owned(), faults };
    let Found { bytes, home } = shipped::find(Some(T::KIND), name)?;
    let document = Document::from_bytes(&bytes).map_err(|fault| faulty(vec![fault]))?;
    check_document(document, &home).map_err(faulty)
}

/// A hand with the defaults of its source, as if a file had named only that.
pub fn hand_for(source: Source) -> Result<Loaded<Hand>, LoadError> {
    let text = Hand::text_for(source);
    check(&text).map_err(|faults| LoadError::Faulty { name: "the hand".to_owned(), faults })
}
