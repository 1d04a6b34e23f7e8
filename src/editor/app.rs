//! The editor as a whole: it reads the living values, draws, and does what the player wishes.

use super::act::{Act, Tab};
use super::disk::{self, Saved};
use super::draw;
use super::edit::{Edit, SlotFile};
use super::feed::{Feed, Order, Setup, Texts};
use super::library::LibraryFile;
use super::model::{Drag, KINDS, Model, OverwriteQuestion, SIZES, Slot, Waiting};
use super::open_file::{FieldValue, OpenFile};
use super::output_test::OutputTest;
use super::recent::Recent;
use crate::engine::event::Input;
use crate::profile::unit::label;
use crate::profile::{Fault, FileKind};

/// The window's inside, whoever owns the window.
pub struct Editor {
    pub(super) model: Model,
    recent: Recent,
    pub(super) feed: Box<dyn Feed + Send>,
    /// What plays: the last setup that went together.
    played: Option<Setup>,
}

impl Editor {
    /// An editor over a feed, which at once plays the model's slot.
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

    /// One frame: `elapsed_s` since the last one. True if something moves by itself, so that
    /// another frame is due soon.
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
            // What was held may have gone with its page before it could be let go.
            self.release();
        }
        moves || is_done
    }

    /// Shows other texts, as when the host has opened another project; what was done before is
    /// forgotten, and where the player looks stays.
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
        self.model.drag = Drag::Open;
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

    /// Takes in what has happened since the last frame. True if anything has, or is about to.
    pub fn listen(&mut self, elapsed_s: f64) -> bool {
        self.feed.pass(elapsed_s);
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
                model.page = Tab::Curve;
            }
            Act::LookStyle(place) => model.style = place,
            Act::Turn(page) => model.page = page,
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
                let text = model.file(kind).text().to_owned();
                self.save(path, text, false);
            }
            Act::Overwrite => {
                if let Some(OverwriteQuestion { path, text }) = model.question.take() {
                    self.save(path, text, true);
                }
            }
            Act::KeepFile => {
                let kept = model.question.take();
                model.sentence = kept.map(|kept| format!("Kept: {}.", kept.path.display()));
            }
            Act::Open(path) => self.open(&path),
            Act::Share(folder) => self.share(&folder),
            Act::Adopt(place) => self.adopt(place),
            Act::Keep(place) => model.slots[place.slot].kept[place.kind as usize] = true,
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

    /// The note of a test and patch end. True if there was one.
    fn end_output_test(&mut self) -> bool {
        let tried = self.model.output_test.take();
        for order in tried.iter().flat_map(OutputTest::end) {
            self.feed.order(order);
        }
        tried.is_some()
    }

    /// What the slot means is handed to whoever plays; a test ends with that. If its files do not
    /// go together, what played before goes on.
    pub(super) fn play(&mut self) {
        let is_tried = self.end_output_test();
        let fresh = self.model.setup();
        let is_due = fresh.is_some() || is_tried;
        self.played = fresh.or(self.played.take());
        if let Some(setup) = self.played.clone().filter(|_| is_due) {
            self.feed.order(Order::Play(Box::new(setup)));
        }
    }

    /// A field of the present slot gets another value; within a movement that is no step yet.
    fn set(&mut self, kind: FileKind, path: &str, value: FieldValue) {
        let place = SlotFile { slot: self.model.slot, kind };
        let Some(text) = self.model.file(kind).with(path, value) else {
            self.model.sentence = Some(format!("{path}: the file has something else there"));
            return;
        };
        let words = label(path);
        self.rewrite(place, &words, &text);
    }

    /// Another text for a file, as one step, or as part of the movement that is under way. One
    /// that would bring the first fault is answered with it, and the file stays as it was.
    pub(super) fn rewrite(&mut self, place: SlotFile, words: &str, text: &str) {
        if self.put(place, words, text, false) {
            self.play();
        }
    }

    /// Puts a text into a file; false if nothing has changed. `follows`: it is one step with the
    /// edit before it.
    fn put(&mut self, place: SlotFile, words: &str, text: &str, follows: bool) -> bool {
        let model = &mut self.model;
        let file = model.slots[place.slot].file_mut(place.kind);
        let before = file.text().to_owned();
        let Some(mut edit) = Edit::between(place, words, &before, text) else { return false };
        edit.follows = follows;
        let mut fresh = file.clone();
        fresh.rewrite(text);
        model.sentence = fresh.faults().first().map(ToString::to_string);
        // A file that has faults already is mended one by one.
        if model.sentence.is_some() && file.faults().is_empty() {
            return false;
        }
        *file = fresh;
        match &model.drag {
            Drag::Held => model.drag = Drag::Moved(place, words.to_owned(), before),
            Drag::Moved(held, ..) if *held == place => {}
            Drag::Open | Drag::Moved(..) => model.history.did(edit),
        }
        true
    }

    /// The movement ends: all of it is one step.
    fn release(&mut self) {
        let drag = std::mem::replace(&mut self.model.drag, Drag::Open);
        if let Drag::Moved(place, words, before) = drag {
            let after = self.model.slots[place.slot].file(place.kind).text();
            if let Some(edit) = Edit::between(place, &words, &before, after) {
                self.model.history.did(edit);
            }
        }
    }

    fn reset(&mut self, kind: FileKind, path: &str) {
        let place = SlotFile { slot: self.model.slot, kind };
        let file = self.model.file(kind);
        let entry = self.model.library.find(kind, &file.meaning().about().id);
        let theirs = entry.map_or(String::new(), |entry| entry.text.clone());
        if let Some(text) = file.with_field_of(path, &theirs) {
            self.rewrite(place, &format!("reset {}", label(path)), &text);
        }
    }

    /// One step back or forward. What is held at the time becomes a step first.
    fn step(&mut self, is_forward: bool) {
        let is_held = !matches!(self.model.drag, Drag::Open);
        self.release();
        while let Some(edit) = self.model.history.step(is_forward) {
            if self.model.apply(&edit) {
                let word = if is_forward { "Made again" } else { "Taken back" };
                self.model.sentence = Some(format!("{word}: {}.", edit.words));
                self.model.slot = edit.place.slot;
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
            let place = SlotFile { slot: to, kind };
            is_changed |= self.put(place, "copy of the other slot", &text, is_changed);
        }
        if is_changed {
            self.play();
        }
    }

    fn choose(&mut self, kind: FileKind, id: &str) {
        let Some(text) = self.model.library.find(kind, id).map(|entry| entry.text.clone()) else {
            return;
        };
        let place = SlotFile { slot: self.model.slot, kind };
        self.model.slots[place.slot].kept[kind as usize] = false;
        self.rewrite(place, &format!("{} {id}", kind.name()), &text);
    }

    fn adopt(&mut self, place: SlotFile) {
        let file: &OpenFile = self.model.slots[place.slot].file(place.kind);
        let id = &file.meaning().about().id;
        let Some(entry) = self.model.library.find(place.kind, id) else { return };
        let text = entry.text.clone();
        self.rewrite(place, "the library's copy", &text);
    }

    fn panic(&mut self) {
        self.stop_test();
        self.feed.order(Order::Input(Input::Panic));
    }

    fn save(&mut self, path: std::path::PathBuf, text: String, is_wished: bool) {
        // Only the last question stands: another answer than the one on the screen would be a trap.
        self.model.question = None;
        self.model.sentence = match disk::save(&path, &text, is_wished) {
            Ok(Saved::Done) => Some(format!("Saved: {}.", path.display())),
            Ok(Saved::Exists) => {
                let said = format!("{}: the file exists. Overwrite it?", path.display());
                self.model.question = Some(OverwriteQuestion { path, text });
                Some(said)
            }
            Err(error) => Some(error),
        };
    }

    fn open(&mut self, path: &std::path::Path) {
        self.model.question = None;
        match disk::open(path) {
            Ok(file) => {
                let place = SlotFile { slot: self.model.slot, kind: file.kind() };
                let entry = LibraryFile::of(file.meaning());
                let text = entry.text.clone();
                self.model.library.add(entry);
                self.rewrite(place, "open a file", &text);
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
            told.push(match disk::save(&path, &text, false) {
                Ok(Saved::Done) => format!("Saved: {}.", path.display()),
                Ok(Saved::Exists) => format!("{}: the file exists; it was kept.", path.display()),
                Err(error) => error,
            });
        }
        self.model.sentence = Some(told.join(" "));
    }
}
