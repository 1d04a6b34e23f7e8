//! What is shown and edited: two slots of three files each, and where the player looks.

use std::collections::{HashMap, HashSet};

use super::act::{Light, Tab};
use super::calibration::{Calibration, MeasuredHand};
use super::edit::{Edit, SlotFile};
use super::feed::{ChosenSetup, ComputerHand, Texts};
use super::history::History;
use super::learn::SourceLearner;
use super::library::{Library, LibraryFile};
use super::open_file::OpenFile;
use super::output_test::OutputTest;
use super::printing::song::PrintingState;
use super::song_wishes::SongWishes;
use super::strand::Strand;
use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Field, FileKind};

/// The three kinds of file, in the order of a slot.
pub const KINDS: [FileKind; 3] = [FileKind::Instrument, FileKind::Target, FileKind::Hand];
/// The sizes of everything to choose from, percent.
pub const SIZES: [u16; 6] = [100, 125, 150, 200, 250, 300];

/// One slot: an instrument, a target and a hand.
#[derive(Clone, Debug)]
pub struct Slot {
    files: [OpenFile; 3],
    /// For which kinds the player keeps the project's copy although the library has another one.
    pub(super) kept: [bool; 3],
}

impl Slot {
    /// Opens the three texts of a slot.
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

    /// What the engine plays of it.
    ///
    /// # Errors
    /// Why its files do not go together, one sentence a line.
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

/// What the editor waits for the player to do.
#[derive(Clone, Debug)]
pub enum Waiting {
    /// A controller is to be moved.
    Source(SourceLearner),
    /// The hand is being measured.
    Hand(Calibration),
    /// A key is to be struck, for this legato mode.
    Key(&'static str),
}

/// Whether a file that exists is to be overwritten.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OverwriteQuestion {
    /// The file.
    pub path: std::path::PathBuf,
    /// What would be written.
    pub(super) contents: Vec<u8>,
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

/// Everything that the window shows beside the values of the line as it plays.
#[derive(Clone, Debug)]
pub struct Model {
    pub(super) slots: [Slot; 2],
    pub(super) slot: usize,
    pub(super) seed: u64,
    pub(super) history: History,
    pub(super) library: Library,
    pub(super) strand: Strand,
    pub(super) style: usize,
    pub(super) tab: Tab,
    pub(super) search: String,
    pub(super) waiting: Option<Waiting>,
    pub(super) measured: Option<MeasuredHand>,
    pub(super) output_test: Option<OutputTest>,
    pub(super) question: Option<OverwriteQuestion>,
    /// What the window has to say about the last thing that was done.
    pub(super) sentence: Option<String>,
    pub(super) drag: Drag,
    /// The hand of this computer, where a host plays.
    pub(super) computer_hand: Option<ComputerHand>,
    /// What can be printed, where a host plays.
    pub(super) printing: Option<PrintingState>,
    /// What is asked of the song, where a host plays one.
    pub(super) song_wishes: Option<SongWishes>,
    /// The light and the size of the window.
    pub appearance: Appearance,
}

/// What the pointer drags. However many values that sets, it is one step to be undone.
#[derive(Clone, Debug)]
pub(super) enum Drag {
    /// Nothing.
    Nothing,
    /// Something that has not moved yet.
    Held,
    /// Something that has moved: the file, what is done in a few words, and the text before.
    Moved(SlotFile, String, String),
}

/// How the window looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Appearance {
    /// Light, dark, or high contrast.
    pub light: Light,
    /// The size of everything, one of [`SIZES`].
    pub percent: u16,
    /// The strands are drawn without movement.
    pub is_still: bool,
}

impl Model {
    /// A model of two slots, of which `slot` plays, 0 or 1, over the shipped library. `seed`
    /// chooses among the possible performances.
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
            tab: Tab::Curve,
            search: String::new(),
            waiting: None,
            measured: None,
            output_test: None,
            question: None,
            sentence: None,
            drag: Drag::Nothing,
            computer_hand: None,
            printing: None,
            song_wishes: None,
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
    pub fn tab(&self) -> Tab {
        self.tab
    }

    /// What can be undone and redone.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// What the window has to say about the last thing that was done.
    pub fn sentence(&self) -> Option<&str> {
        self.sentence.as_deref()
    }

    /// The names of the instrument's styles, in the order in which a rising gesture meets them.
    pub fn styles(&self) -> Vec<String> {
        let instrument = self.file(FileKind::Instrument).instrument();
        instrument.map(|it| it.style_names()).unwrap_or_default()
    }

    /// Those of both slots' instruments.
    pub(super) fn all_styles(&self) -> Vec<String> {
        let instruments =
            self.slots.iter().filter_map(|slot| slot.file(FileKind::Instrument).instrument());
        instruments.flat_map(|it| it.style_names()).collect()
    }

    /// The style that is looked at; empty if the slot holds no instrument.
    pub fn style(&self) -> String {
        let mut styles = self.styles();
        if styles.is_empty() {
            return String::new();
        }
        styles.swap_remove(self.style.min(styles.len() - 1))
    }

    /// In which kind of file the numbers of a strand stand.
    pub fn kind_of(strand: Strand) -> FileKind {
        if strand == Strand::Gesture { FileKind::Hand } else { FileKind::Instrument }
    }

    /// The setup for whoever plays, if the files of the slot go together.
    pub fn setup(&self) -> Option<ChosenSetup> {
        let patch = self.slot().patch(self.seed).ok()?;
        Some(ChosenSetup { slots: self.slots.each_ref().map(Slot::texts), slot: self.slot, patch })
    }

    /// The library's copy of a file of the slot that plays, if its text is another one.
    pub fn other_copy(&self, kind: FileKind) -> Option<&LibraryFile> {
        let file = self.file(kind);
        let entry = self.library.find(kind, &file.meaning().about().id)?;
        (entry.text != file.text()).then_some(entry)
    }

    /// What does not go together, one sentence each.
    pub fn conflicts(&self) -> Vec<String> {
        self.slot().conflicts()
    }

    /// The fields in which the two slots differ.
    pub fn differences(&self) -> Vec<FieldDifference> {
        let mut all = Vec::new();
        for kind in KINDS {
            let [one, other] = self.slots.each_ref().map(|slot| slot.file(kind).meaning().fields());
            all.extend(differences(kind, one, other));
        }
        all
    }

    /// The fields in which a file of the slot that plays differs from the library's copy.
    pub fn differences_to_library(&self, kind: FileKind) -> Vec<FieldDifference> {
        let Some(entry) = self.other_copy(kind) else { return Vec::new() };
        let Ok(file) = OpenFile::open(&entry.text) else { return Vec::new() };
        differences(kind, self.file(kind).meaning().fields(), file.meaning().fields())
    }

    /// Applies an edit to its file; false if the file's text is not the one that the edit belongs
    /// to.
    pub(super) fn apply(&mut self, edit: &Edit) -> bool {
        let file = self.slots[edit.slot_file.slot].file_mut(edit.slot_file.kind);
        match edit.applied(file.text()) {
            Some(text) => {
                file.rewrite(&text);
                true
            }
            None => false,
        }
    }
}

/// The fields that differ, in the order of reading.
fn differences(kind: FileKind, one: &[Field], other: &[Field]) -> Vec<FieldDifference> {
    let by_path = [one, other].map(|fields| -> HashMap<&str, &Field> {
        fields.iter().map(|field| (field.path.as_str(), field)).collect()
    });
    let mut seen = HashSet::new();
    let paths = one.iter().chain(other).map(|field| field.path.as_str());
    let difference = |path: &str| FieldDifference {
        kind,
        path: path.to_owned(),
        sides: by_path.each_ref().map(|fields| fields.get(path).map(|field| field.value.clone())),
    };
    let all = paths.filter(|path| seen.insert(*path)).map(difference);
    all.filter(|each| each.sides[0] != each.sides[1]).collect()
}
