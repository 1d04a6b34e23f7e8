//! What is shown and edited: two slots of three files each, and where the player looks.

use super::act::{Light, Page};
use super::edit::{Edit, Place};
use super::feed::{Setup, Texts};
use super::history::History;
use super::learn::{Calibration, Measured, SourceLearner};
use super::library::{Entry, Library};
use super::sheet::Sheet;
use super::strand::Strand;
use super::trial::Trial;
use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Field, FileKind};

/// The three kinds of file, in the order of a slot.
pub const KINDS: [FileKind; 3] = [FileKind::Instrument, FileKind::Target, FileKind::Hand];
/// The size of everything, percent.
pub const SIZES: [u16; 6] = [100, 125, 150, 200, 250, 300];

/// One slot: an instrument, a target and a hand.
#[derive(Clone, Debug)]
pub struct Slot {
    sheets: [Sheet; 3],
    /// Copies that differ from the library's and are meant to.
    pub(super) kept: [bool; 3],
}

impl Slot {
    /// Opens three texts.
    ///
    /// # Errors
    /// Every fault of the first text that has any.
    pub fn open(texts: &Texts) -> Result<Slot, Vec<Fault>> {
        let sheets = [&texts.instrument, &texts.target, &texts.hand].map(|text| Sheet::open(text));
        let [instrument, target, hand] = sheets;
        Ok(Slot { sheets: [instrument?, target?, hand?], kept: [false; 3] })
    }

    /// One of its files.
    pub fn sheet(&self, kind: FileKind) -> &Sheet {
        &self.sheets[kind as usize]
    }

    pub(super) fn sheet_mut(&mut self, kind: FileKind) -> &mut Sheet {
        &mut self.sheets[kind as usize]
    }

    /// Its texts.
    pub fn texts(&self) -> Texts {
        let [instrument, target, hand] = KINDS.map(|kind| self.sheet(kind).text().to_owned());
        Texts { instrument, target, hand }
    }

    /// What the engine plays of it, or why its files do not go together.
    pub fn patch(&self, seed: u64) -> Result<Patch, String> {
        let [instrument, target, hand] = &self.sheets;
        match (instrument.instrument(), target.target(), hand.hand()) {
            (Some(instrument), Some(target), Some(hand)) => {
                let patch = profile::patch(instrument, target, hand, seed, 1.0);
                patch.map_err(|error| error.to_string())
            }
            _ => Err("the slot does not hold an instrument, a target and a hand".to_owned()),
        }
    }

    /// What is wrong with its files, each alone and together, one sentence each.
    pub fn conflicts(&self) -> Vec<String> {
        let mut all = Vec::new();
        for sheet in &self.sheets {
            let name = sheet.kind().name();
            all.extend(sheet.faults().iter().map(|fault| format!("{name}: {fault}")));
        }
        if let Err(sentences) = self.patch(0) {
            all.extend(sentences.lines().map(str::to_owned));
        }
        all
    }
}

/// What waits for the player to do something.
#[derive(Clone, Debug)]
pub enum Waiting {
    /// A controller is to be moved.
    Source(SourceLearner),
    /// The hand is being measured.
    Hand(Calibration),
    /// A key is to be struck, for this legato mode.
    Key(&'static str),
}

/// A file that exists, and what would be written over it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The file.
    pub path: std::path::PathBuf,
    /// What would be written.
    pub(super) text: String,
}

/// A field that is not the same in both slots.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Which file.
    pub kind: FileKind,
    /// The dotted name.
    pub path: String,
    /// What each slot has; `None` where it has no such field.
    pub sides: [Option<serde_json::Value>; 2],
}

/// Everything that the window shows beside the living values.
#[derive(Clone, Debug)]
pub struct Model {
    pub(super) slots: [Slot; 2],
    pub(super) slot: usize,
    pub(super) seed: u64,
    pub(super) history: History,
    pub(super) library: Library,
    pub(super) strand: Strand,
    pub(super) style: usize,
    pub(super) page: Page,
    pub(super) search: String,
    pub(super) waiting: Option<Waiting>,
    pub(super) measured: Option<Measured>,
    pub(super) trial: Option<Trial>,
    pub(super) question: Option<Question>,
    /// What the window has to say about the last thing that was done.
    pub(super) sentence: Option<String>,
    pub(super) grip: Grip,
    /// The look of the window.
    pub look: Look,
}

/// A movement of the pointer that sets many values and is one step.
#[derive(Clone, Debug)]
pub(super) enum Grip {
    /// Nothing is held.
    Open,
    /// Something is held and has not moved yet.
    Held,
    /// The file, what is done in a few words, and the text before.
    Moved(Place, String, String),
}

/// How the window looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Paper, dark, or high contrast.
    pub light: Light,
    /// The size of everything, one of [`SIZES`].
    pub percent: u16,
    /// Nothing moves that does not have to.
    pub is_still: bool,
}

impl Model {
    /// Two slots and the library of the program.
    ///
    /// # Errors
    /// Every fault of the first text that has any.
    pub fn open(slots: &[Texts; 2], slot: usize, seed: u64) -> Result<Model, Vec<Fault>> {
        let [one, other] = slots;
        Ok(Model {
            slots: [Slot::open(one)?, Slot::open(other)?],
            slot: slot.min(1),
            seed,
            history: History::default(),
            library: Library::shipped(),
            strand: Strand::Dynamics,
            style: 1,
            page: Page::Curve,
            search: String::new(),
            waiting: None,
            measured: None,
            trial: None,
            question: None,
            sentence: None,
            grip: Grip::Open,
            look: Look { light: Light::Day, percent: 100, is_still: false },
        })
    }

    /// The slot that plays.
    pub fn slot(&self) -> &Slot {
        &self.slots[self.slot]
    }

    /// Which slot plays, 0 or 1.
    pub fn slot_number(&self) -> usize {
        self.slot
    }

    /// A file of the slot that plays.
    pub fn sheet(&self, kind: FileKind) -> &Sheet {
        self.slot().sheet(kind)
    }

    /// The strand that is looked at.
    pub fn strand(&self) -> Strand {
        self.strand
    }

    /// The page that is open.
    pub fn page(&self) -> Page {
        self.page
    }

    /// What was done.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// What the window has to say about the last thing that was done.
    pub fn sentence(&self) -> Option<&str> {
        self.sentence.as_deref()
    }

    /// The names of the styles, in order.
    pub fn styles(&self) -> Vec<String> {
        let instrument = self.sheet(FileKind::Instrument).instrument();
        let styles = instrument.map(|instrument| &instrument.vibrato.styles[..]).unwrap_or(&[]);
        styles.iter().map(|style| style.name.clone()).collect()
    }

    /// The style that is looked at.
    pub fn style(&self) -> String {
        let mut styles = self.styles();
        if styles.is_empty() {
            return String::new();
        }
        styles.swap_remove(self.style.min(styles.len() - 1))
    }

    /// In which file the numbers of a strand stand.
    pub fn kind_of(strand: Strand) -> FileKind {
        if strand == Strand::Gesture { FileKind::Hand } else { FileKind::Instrument }
    }

    /// The setup for whoever plays, if the files of the slot go together.
    pub fn setup(&self) -> Option<Setup> {
        let patch = self.slot().patch(self.seed).ok()?;
        Some(Setup { slots: self.slots.each_ref().map(Slot::texts), slot: self.slot, patch })
    }

    /// The library's copy of a file of this slot, if it is another text.
    pub fn other_copy(&self, kind: FileKind) -> Option<&Entry> {
        let sheet = self.sheet(kind);
        let entry = self.library.find(kind, &sheet.meaning().about().id)?;
        (entry.text != sheet.text()).then_some(entry)
    }

    /// What does not go together, one sentence each.
    pub fn conflicts(&self) -> Vec<String> {
        self.slot().conflicts()
    }

    /// What the two slots do not share.
    pub fn differences(&self) -> Vec<Difference> {
        let mut all = Vec::new();
        for kind in KINDS {
            let [one, other] =
                self.slots.each_ref().map(|slot| slot.sheet(kind).meaning().fields());
            all.extend(differences(kind, one, other));
        }
        all
    }

    /// What a file of this slot does not share with the library's copy.
    pub fn differences_to_library(&self, kind: FileKind) -> Vec<Difference> {
        let Some(entry) = self.other_copy(kind) else { return Vec::new() };
        let Ok(sheet) = Sheet::open(&entry.text) else { return Vec::new() };
        differences(kind, self.sheet(kind).meaning().fields(), sheet.meaning().fields())
    }

    /// Puts an edit into its file; false if it is not of this text.
    pub(super) fn apply(&mut self, edit: &Edit) -> bool {
        let sheet = self.slots[edit.place.slot].sheet_mut(edit.place.kind);
        match edit.applied(sheet.text()) {
            Some(text) => {
                sheet.rewrite(&text);
                true
            }
            None => false,
        }
    }
}

/// The fields that are not the same, in the order of reading.
fn differences(kind: FileKind, one: &[Field], other: &[Field]) -> Vec<Difference> {
    let value = |fields: &[Field], path: &str| {
        fields.iter().find(|field| field.path == path).map(|field| field.value.clone())
    };
    let mut paths: Vec<&str> = Vec::new();
    for field in one.iter().chain(other) {
        if !paths.contains(&field.path.as_str()) {
            paths.push(&field.path);
        }
    }
    let difference = |path: &str| Difference {
        kind,
        path: path.to_owned(),
        sides: [value(one, path), value(other, path)],
    };
    let all = paths.into_iter().map(difference);
    all.filter(|each| each.sides[0] != each.sides[1]).collect()
}
