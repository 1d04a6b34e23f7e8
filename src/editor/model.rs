//! What is shown and edited: two slots of three files each, and where the player looks.

use super::act::{Light, Tab};
use super::calibration::{Calibration, MeasuredHand};
use super::edit::{Edit, SlotFile};
use super::feed::{Setup, Texts};
use super::history::History;
use super::learn::SourceLearner;
use super::library::{Library, LibraryFile};
use super::open_file::OpenFile;
use super::output_test::OutputTest;
use super::strand::Strand;
use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Field, FileKind};

/// The three kinds of file, in the order of a slot.
pub const KINDS: [FileKind; 3] = [FileKind::Instrument, FileKind::Target, FileKind::Hand];
/// The size of everything, percent.
pub const SIZES: [u16; 6] = [100, 125, 150, 200, 250, 300];

/// One slot: an instrument, a target and a hand.
#[derive(Clone, Debug)]
pub struct Slot {
    files: [OpenFile; 3],
    /// Copies that differ from the library's and are meant to.
    pub(super) kept: [bool; 3],
}

impl Slot {
    /// Opens three texts.
    ///
    /// # Errors
    /// Every fault of the first text that has any.
    pub fn open(texts: &Texts) -> Result<Slot, Vec<Fault>> {
        let files =
            [&texts.instrument, &texts.target, &texts.hand].map(|text| OpenFile::open(text));
        let [instrument, target, hand] = files;
        Ok(Slot { files: [instrument?, target?, hand?], kept: [false; 3] })
    }

    /// One of its files.
    pub fn file(&self, kind: FileKind) -> &OpenFile {
        &self.files[kind as usize]
    }

    pub(super) fn file_mut(&mut self, kind: FileKind) -> &mut OpenFile {
        &mut self.files[kind as usize]
    }

    /// Its texts.
    pub fn texts(&self) -> Texts {
        let [instrument, target, hand] = KINDS.map(|kind| self.file(kind).text().to_owned());
        Texts { instrument, target, hand }
    }

    /// What the engine plays of it, or why its files do not go together.
    pub fn patch(&self, seed: u64) -> Result<Patch, String> {
        let [instrument, target, hand] = &self.files;
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
        for file in &self.files {
            let name = file.kind().name();
            all.extend(file.faults().iter().map(|fault| format!("{name}: {fault}")));
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
pub struct OverwriteQuestion {
    /// The file.
    pub path: std::path::PathBuf,
    /// What would be written.
    pub(super) text: String,
}

/// A field that is not the same in both slots.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldDifference {
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
    pub(super) page: Tab,
    pub(super) search: String,
    pub(super) waiting: Option<Waiting>,
    pub(super) measured: Option<MeasuredHand>,
    pub(super) output_test: Option<OutputTest>,
    pub(super) question: Option<OverwriteQuestion>,
    /// What the window has to say about the last thing that was done.
    pub(super) sentence: Option<String>,
    pub(super) drag: Drag,
    /// The light and the size of the window.
    pub appearance: Appearance,
}

/// A movement of the pointer that sets many values and is one step.
#[derive(Clone, Debug)]
pub(super) enum Drag {
    /// Nothing is held.
    Open,
    /// Something is held and has not moved yet.
    Held,
    /// The file, what is done in a few words, and the text before.
    Moved(SlotFile, String, String),
}

/// How the window looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Appearance {
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
            page: Tab::Curve,
            search: String::new(),
            waiting: None,
            measured: None,
            output_test: None,
            question: None,
            sentence: None,
            drag: Drag::Open,
            appearance: Appearance { light: Light::Day, percent: 100, is_still: false },
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
    pub fn file(&self, kind: FileKind) -> &OpenFile {
        self.slot().file(kind)
    }

    /// The strand that is looked at.
    pub fn strand(&self) -> Strand {
        self.strand
    }

    /// The page that is open.
    pub fn page(&self) -> Tab {
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
        let instrument = self.file(FileKind::Instrument).instrument();
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
    pub fn other_copy(&self, kind: FileKind) -> Option<&LibraryFile> {
        let file = self.file(kind);
        let entry = self.library.find(kind, &file.meaning().about().id)?;
        (entry.text != file.text()).then_some(entry)
    }

    /// What does not go together, one sentence each.
    pub fn conflicts(&self) -> Vec<String> {
        self.slot().conflicts()
    }

    /// What the two slots do not share.
    pub fn differences(&self) -> Vec<FieldDifference> {
        let mut all = Vec::new();
        for kind in KINDS {
            let [one, other] = self.slots.each_ref().map(|slot| slot.file(kind).meaning().fields());
            all.extend(differences(kind, one, other));
        }
        all
    }

    /// What a file of this slot does not share with the library's copy.
    pub fn differences_to_library(&self, kind: FileKind) -> Vec<FieldDifference> {
        let Some(entry) = self.other_copy(kind) else { return Vec::new() };
        let Ok(file) = OpenFile::open(&entry.text) else { return Vec::new() };
        differences(kind, self.file(kind).meaning().fields(), file.meaning().fields())
    }

    /// Puts an edit into its file; false if it is not of this text.
    pub(super) fn apply(&mut self, edit: &Edit) -> bool {
        let file = self.slots[edit.place.slot].file_mut(edit.place.kind);
        match edit.applied(file.text()) {
            Some(text) => {
                file.rewrite(&text);
                true
            }
            None => false,
        }
    }
}

/// The fields that are not the same, in the order of reading.
fn differences(kind: FileKind, one: &[Field], other: &[Field]) -> Vec<FieldDifference> {
    let value = |fields: &[Field], path: &str| {
        fields.iter().find(|field| field.path == path).map(|field| field.value.clone())
    };
    let mut paths: Vec<&str> = Vec::new();
    for field in one.iter().chain(other) {
        if !paths.contains(&field.path.as_str()) {
            paths.push(&field.path);
        }
    }
    let difference = |path: &str| FieldDifference {
        kind,
        path: path.to_owned(),
        sides: [value(one, path), value(other, path)],
    };
    let all = paths.into_iter().map(difference);
    all.filter(|each| each.sides[0] != each.sides[1]).collect()
}
