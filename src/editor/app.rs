//! The editor as a whole: each frame it reads what was played, draws the window and does what the player did there.

use super::act::{Act, Tab};
use super::disk::{self, Saved};
use super::draw;
use super::edit::{Edit, SlotFile};
use super::feed::{ChosenSetup, Feed, Order, Texts};
use super::library::LibraryFile;
use super::model::{Drag, KINDS, Model, OverwriteQuestion, SIZES, Slot, Waiting};
use super::open_file::{FieldValue, OpenFile};
use super::output_test::OutputTest;
use super::recent::Recent;
use crate::engine::Input;
use crate::profile::unit::label;
use crate::profile::{Fault, FileKind};

/// What is in the window, whoever owns the window: the program or a plugin. The window's thread.
pub struct Editor {
    pub(super) model: Model,
    recent: Recent,
    pub(super) feed: Box<dyn Feed + Send>,
    /// What plays: the last setup whose files went together.
    played: Option<ChosenSetup>,
}

impl Editor {
    /// An editor of `model` over a feed that plays the model's slot already.
    pub fn new(model: Model, feed: Box<dyn Feed + Send>) -> Editor {
        let played = model.setup();
        Editor { model, recent: Recent::default(), feed, played }
    }

    /// What is shown and edited.
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// The last eight seconds.
    pub fn recent(&self) -> &Recent {
        &self.recent
    }

    /// Whoever plays.
    pub fn feed(&mut self) -> &mut (dyn Feed + Send) {
        &mut *self.feed
    }

    /// Draws one frame into the whole of `ui` and does what the player did there. `elapsed_s` is
    /// the time since the last frame, seconds. True if something moves by itself, so that another
    /// frame is due soon.
    pub fn frame(&mut self, ui: &mut egui::Ui, elapsed_s: f64) -> bool {
        let moves = self.listen(elapsed_s);
        ui.ctx().set_zoom_factor(f32::from(self.model.appearance.percent) / 100.0);
        let mut acts = Vec::new();
        draw::view(ui, &self.model, &self.recent, self.feed.transport(), &mut acts);
        let is_done = !acts.is_empty();
        for act in acts {
            self.act(act);
        }
        if !ui.input(|input| input.pointer.any_down()) {
            // A breakpoint that was dragged may have gone with its page before the pointer was up.
            self.release();
        }
        moves || is_done
    }

    /// Shows the texts of other slots, as when the host has opened another project. `slot` plays, 0
    /// or 1. The steps to be undone are forgotten; page, strand and size stay.
    ///
    /// # Errors
    /// Every fault of the first text that has any; then all stays as it was.
    pub fn reopen(&mut self, slots: &[Texts; 2], slot: usize, seed: u64) -> Result<(), Vec<Fault>> {
        let fresh = Model::open(slots, slot, seed)?;
        self.end_output_test();
        self.model.slots = fresh.slots;
        self.model.slot = fresh.slot;
        self.model.seed = seed;
        self.model.history = fresh.history;
        self.model.drag = Drag::Nothing;
        self.model.waiting = None;
        self.model.measured = None;
        self.model.question = None;
        self.model.sentence = None;
        self.played = self.model.setup();
        Ok(())
    }

    /// Shows the other slot, as when the host has changed over to it.
    pub fn turn_to(&mut self, slot: usize) {
        self.end_output_test();
        self.model.slot = slot.min(1);
        self.played = self.model.setup().or(self.played.take());
    }

    /// Takes in what was played and heard in the `elapsed_s` seconds since the last call. True if
    /// something moves, or is about to.
    pub fn listen(&mut self, elapsed_s: f64) -> bool {
        self.feed.pass(elapsed_s);
        self.model.printing = self.feed.printing();
        self.model.computer_hand = self.feed.computer_hand();
        let mut moves = self.feed.transport().is_some_and(|transport| transport.is_running);
        while let Some(heard) = self.feed.hear() {
            self.hear(heard.message);
        }
        self.pass(elapsed_s);
        while let Some(snapshot) = self.feed.read() {
            // A line at rest changes nothing but its clock.
            moves |= self.recent.view().is_none_or(|before| snapshot.view.moves_after(before));
            self.recent.add(snapshot);
        }
        moves
            || self.model.output_test.is_some()
            || matches!(self.model.waiting, Some(Waiting::Hand(_)))
    }

    /// Does one thing.
    pub fn act(&mut self, act: Act) {
        let model = &mut self.model;
        match act {
            Act::Look(strand) => {
                model.strand = strand;
                model.tab = Tab::Curve;
            }
            Act::LookStyle(place) => model.style = place,
            Act::Turn(tab) => {
                model.tab = tab;
                model.song_wishes = self.feed.song_wishes();
            }
            Act::Set { kind, path, value } => self.set(kind, &path, value),
            Act::Grab => model.drag = Drag::Held,
            Act::Release => self.release(),
            Act::Reset { kind, path } => self.reset(kind, &path),
            Act::Undo => self.step(false),
            Act::Redo => self.step(true),
            Act::Slot(slot) => {
                model.slot = slot.min(1);
                self.play();
            }
            Act::CopySlot => self.copy_slot(),
            Act::Choose(kind, id) => self.choose(kind, &id),
            Act::Search(words) => model.search = words,
            Act::Resend => self.feed.order(Order::Input(Input::Resync)),
            Act::Panic => self.panic(),
            Act::Thaw => self.feed.order(Order::Input(Input::Thaw)),
            Act::Learn(is_wished) => self.learn(is_wished),
            Act::Calibrate(is_wished) => self.calibrate(is_wished),
            Act::LearnKey(mode) => model.waiting = mode.map(Waiting::Key),
            Act::Test(path) => self.test(path),
            Act::Save(kind, path) => {
                let contents = model.file(kind).text().as_bytes().to_owned();
                self.save(path, contents, false);
            }
            Act::Overwrite => {
                if let Some(OverwriteQuestion { path, contents }) = model.question.take() {
                    self.save(path, contents, true);
                }
            }
            Act::KeepFile => {
                let kept = model.question.take();
                model.sentence = kept.map(|kept| format!("Kept: {}.", kept.path.display()));
            }
            Act::Open(path) => self.open(&path),
            Act::Share(folder) => self.share(&folder),
            Act::Ask(table) => self.ask(&table),
            Act::ComputerHand(is_chosen) => self.choose_computer_hand(is_chosen),
            Act::RecordAnew => self.feed.order(Order::RecordAnew),
            Act::Printed(is_printed) => self.feed.order(Order::Printed(is_printed)),
            Act::Print(path, bars) => self.print(path, &bars),
            Act::Adopt(slot_file) => self.adopt(slot_file),
            Act::Keep(slot_file) => {
                model.slots[slot_file.slot].kept[slot_file.kind as usize] = true
            }
            Act::Light(light) => model.appearance.light = light,
            Act::Size(percent) => {
                model.appearance.percent = percent.clamp(SIZES[0], SIZES[SIZES.len() - 1]);
            }
            Act::Still(is_still) => model.appearance.is_still = is_still,
            Act::Say(sentence) => model.sentence = Some(sentence),
            Act::Seek(place_s) => self.feed.seek(place_s),
            Act::Run(is_running) => self.feed.run(is_running),
        }
    }

    /// Ends the test of an output: its note and its patch. True if there was one.
    fn end_output_test(&mut self) -> bool {
        let tried = self.model.output_test.take();
        for order in tried.iter().flat_map(OutputTest::end) {
            self.feed.order(order);
        }
        tried.is_some()
    }

    /// Hands what the slot means to whoever plays; a test ends with that. If the slot's files do
    /// not go together, what played before goes on.
    pub(super) fn play(&mut self) {
        let is_tried = self.end_output_test();
        let fresh = self.model.setup();
        let is_due = fresh.is_some() || is_tried;
        self.played = fresh.or(self.played.take());
        if let Some(setup) = self.played.clone().filter(|_| is_due) {
            self.feed.order(Order::Play(Box::new(setup)));
        }
    }

    /// Gives a field of the slot that plays another value. While something is dragged, that is no
    /// step to be undone yet.
    fn set(&mut self, kind: FileKind, path: &str, value: FieldValue) {
        let slot_file = SlotFile { slot: self.model.slot, kind };
        let Some(text) = self.model.file(kind).with(path, value) else {
            self.model.sentence = Some(format!("{path}: the file has something else there"));
            return;
        };
        let words = label(path);
        self.rewrite(slot_file, &words, &text);
    }

    /// Gives a file another text, as one step to be undone or as part of what is being dragged. A
    /// text that would bring the file its first fault is answered with that fault, and not taken.
    pub(super) fn rewrite(&mut self, slot_file: SlotFile, words: &str, text: &str) {
        if self.put(slot_file, words, text, false) {
            self.play();
        }
    }

    /// Puts a text into a file; false if nothing has changed. With `follows` it is undone together
    /// with the edit before it.
    fn put(&mut self, slot_file: SlotFile, words: &str, text: &str, follows: bool) -> bool {
        let model = &mut self.model;
        let file = model.slots[slot_file.slot].file_mut(slot_file.kind);
        let before = file.text().to_owned();
        let Some(mut edit) = Edit::between(slot_file, words, &before, text) else { return false };
        edit.follows = follows;
        let mut fresh = file.clone();
        fresh.rewrite(text);
        model.sentence = fresh.faults().first().map(ToString::to_string);
        // A file that has faults already is mended fault by fault, so it may keep the others.
        if model.sentence.is_some() && file.faults().is_empty() {
            return false;
        }
        *file = fresh;
        match &model.drag {
            Drag::Held => model.drag = Drag::Moved(slot_file, words.to_owned(), before),
            Drag::Moved(held, ..) if *held == slot_file => {}
            Drag::Nothing | Drag::Moved(..) => model.history.did(edit),
        }
        true
    }

    /// What was dragged is let go: all of its way is one step to be undone.
    fn release(&mut self) {
        let drag = std::mem::replace(&mut self.model.drag, Drag::Nothing);
        if let Drag::Moved(slot_file, words, before) = drag {
            let after = self.model.slots[slot_file.slot].file(slot_file.kind).text();
            if let Some(edit) = Edit::between(slot_file, &words, &before, after) {
                self.model.history.did(edit);
            }
        }
    }

    fn reset(&mut self, kind: FileKind, path: &str) {
        let slot_file = SlotFile { slot: self.model.slot, kind };
        let file = self.model.file(kind);
        let entry = self.model.library.find(kind, &file.meaning().about().id);
        let theirs = entry.map_or(String::new(), |entry| entry.text.clone());
        if let Some(text) = file.with_field_of(path, &theirs) {
            self.rewrite(slot_file, &format!("reset {}", label(path)), &text);
        }
    }

    /// One step back or forward. What is being dragged at the time becomes a step first.
    fn step(&mut self, is_forward: bool) {
        let is_held = !matches!(self.model.drag, Drag::Nothing);
        self.release();
        while let Some(edit) = self.model.history.step(is_forward) {
            if self.model.apply(&edit) {
                let word = if is_forward { "Made again" } else { "Taken back" };
                self.model.sentence = Some(format!("{word}: {}.", edit.words));
                self.model.slot = edit.slot_file.slot;
            }
            if self.model.history.is_step_whole(is_forward, &edit) {
                self.play();
                break;
            }
        }
        if is_held {
            self.model.drag = Drag::Held;
        }
    }

    fn copy_slot(&mut self) {
        let (from, to) = (self.model.slot, 1 - self.model.slot);
        let mut is_changed = false;
        for kind in KINDS {
            let text = self.model.slots[from].file(kind).text().to_owned();
            let slot_file = SlotFile { slot: to, kind };
            is_changed |= self.put(slot_file, "copy of the other slot", &text, is_changed);
        }
        if is_changed {
            self.play();
        }
    }

    fn choose(&mut self, kind: FileKind, id: &str) {
        let Some(text) = self.model.library.find(kind, id).map(|entry| entry.text.clone()) else {
            return;
        };
        let slot_file = SlotFile { slot: self.model.slot, kind };
        self.model.slots[slot_file.slot].kept[kind as usize] = false;
        self.rewrite(slot_file, &format!("{} {id}", kind.name()), &text);
    }

    fn adopt(&mut self, slot_file: SlotFile) {
        let file: &OpenFile = self.model.slots[slot_file.slot].file(slot_file.kind);
        let id = &file.meaning().about().id;
        let Some(entry) = self.model.library.find(slot_file.kind, id) else { return };
        let text = entry.text.clone();
        self.rewrite(slot_file, "the library's copy", &text);
    }

    fn panic(&mut self) {
        self.stop_test();
        self.feed.order(Order::Input(Input::Panic));
    }

    /// Writes a file, or asks whether one that exists is to be overwritten.
    pub(super) fn save(&mut self, path: std::path::PathBuf, contents: Vec<u8>, is_wished: bool) {
        // An earlier question is given up: its answer would overwrite a file that is no longer
        // shown.
        self.model.question = None;
        self.model.sentence = match disk::save(&path, &contents, is_wished) {
            Ok(Saved::Done) => Some(format!("Saved: {}.", path.display())),
            Ok(Saved::Exists) => {
                let said = format!("{}: the file exists. Overwrite it?", path.display());
                self.model.question = Some(OverwriteQuestion { path, contents });
                Some(said)
            }
            Err(error) => Some(error),
        };
    }

    fn open(&mut self, path: &std::path::Path) {
        self.model.question = None;
        match disk::open(path) {
            Ok(file) => {
                let slot_file = SlotFile { slot: self.model.slot, kind: file.kind() };
                let entry = LibraryFile::of(file.meaning());
                let text = entry.text.clone();
                self.model.library.add(entry);
                self.rewrite(slot_file, "open a file", &text);
            }
            Err(sentences) => self.model.sentence = Some(sentences),
        }
    }

    fn share(&mut self, folder: &std::path::Path) {
        self.model.question = None;
        let slot: &Slot = self.model.slot();
        let files = [slot.file(FileKind::Instrument), slot.file(FileKind::Target)];
        let mut told = Vec::new();
        for (path, text) in disk::shared(folder, files) {
            told.push(match disk::save(&path, text.as_bytes(), false) {
                Ok(Saved::Done) => format!("Saved: {}.", path.display()),
                Ok(Saved::Exists) => format!("{}: the file exists; it was kept.", path.display()),
                Err(error) => error,
            });
        }
        self.model.sentence = Some(told.join(" "));
    }
}
