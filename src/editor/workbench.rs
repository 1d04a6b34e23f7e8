//! The editor as a whole: it reads the living values, draws, and does what the player wishes.

use super::act::{Act, Page};
use super::draw;
use super::edit::{Edit, Place};
use super::feed::{Feed, Order, Setup, Texts};
use super::library::Entry;
use super::meter::Meter;
use super::model::{Grip, KINDS, Model, Question, SIZES, Slot, Waiting};
use super::sheet::{Setting, Sheet};
use super::store::{self, Saved};
use super::trial::Trial;
use crate::engine::event::Input;
use crate::profile::{Fault, FileKind};

/// The window's inside, whoever owns the window.
pub struct Editor {
    pub(super) model: Model,
    meter: Meter,
    pub(super) feed: Box<dyn Feed + Send>,
    /// What plays: the last setup that went together.
    played: Option<Setup>,
}

impl Editor {
    /// An editor over a feed, which at once plays the model's slot.
    pub fn new(model: Model, feed: Box<dyn Feed + Send>) -> Editor {
        let played = model.setup();
        Editor { model, meter: Meter::default(), feed, played }
    }

    /// What is shown and edited.
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// The last eight seconds.
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// Whoever plays.
    pub fn feed(&mut self) -> &mut (dyn Feed + Send) {
        &mut *self.feed
    }

    /// One frame: `elapsed_s` since the last one. True if something moves by itself, so that
    /// another frame is due soon.
    pub fn frame(&mut self, ui: &mut egui::Ui, elapsed_s: f64) -> bool {
        let moves = self.listen(elapsed_s);
        ui.ctx().set_zoom_factor(f32::from(self.model.look.percent) / 100.0);
        let mut acts = Vec::new();
        draw::view(ui, &self.model, &self.meter, self.feed.reel(), &mut acts);
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
        self.end_trial();
        self.model.slots = fresh.slots;
        self.model.slot = fresh.slot;
        self.model.seed = seed;
        self.model.history = fresh.history;
        self.model.grip = Grip::Open;
        self.model.waiting = None;
        self.model.measured = None;
        self.model.question = None;
        self.model.sentence = None;
        self.played = self.model.setup();
        Ok(())
    }

    /// Shows the other slot, as when the host has changed over to it.
    pub fn turn_to(&mut self, slot: usize) {
        self.end_trial();
        self.model.slot = slot.min(1);
        self.played = self.model.setup().or(self.played.take());
    }

    /// Takes in what has happened since the last frame. True if anything has, or is about to.
    pub fn listen(&mut self, elapsed_s: f64) -> bool {
        self.feed.pass(elapsed_s);
        let mut moves = self.feed.reel().is_some_and(|reel| reel.is_running);
        while let Some(heard) = self.feed.hear() {
            self.hear(heard.message);
        }
        self.pass(elapsed_s);
        while let Some(moment) = self.feed.read() {
            // A line at rest changes nothing but its clock.
            moves |= self.meter.view().is_none_or(|before| moment.view.moves_after(before));
            self.meter.take(moment);
        }
        moves || self.model.trial.is_some() || matches!(self.model.waiting, Some(Waiting::Hand(_)))
    }

    /// Does one thing.
    pub fn act(&mut self, act: Act) {
        let model = &mut self.model;
        match act {
            Act::Look(strand) => {
                model.strand = strand;
                model.page = Page::Curve;
            }
            Act::LookStyle(place) => model.style = place,
            Act::Turn(page) => model.page = page,
            Act::Set { kind, path, value } => self.set(kind, &path, value),
            Act::Grip => model.grip = Grip::Held,
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
                let text = model.sheet(kind).text().to_owned();
                self.save(path, text, false);
            }
            Act::Overwrite => {
                if let Some(Question { path, text }) = model.question.take() {
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
            Act::Light(light) => model.look.light = light,
            Act::Size(percent) => {
                model.look.percent = percent.clamp(SIZES[0], SIZES[SIZES.len() - 1]);
            }
            Act::Still(is_still) => model.look.is_still = is_still,
            Act::Say(sentence) => model.sentence = Some(sentence),
            Act::Wind(place_s) => self.feed.wind(place_s),
            Act::Run(is_running) => self.feed.run(is_running),
        }
    }

    /// A trial's note and patch end. True if there was one.
    fn end_trial(&mut self) -> bool {
        let tried = self.model.trial.take();
        for order in tried.iter().flat_map(Trial::end) {
            self.feed.order(order);
        }
        tried.is_some()
    }

    /// What the slot means is handed to whoever plays; a trial ends with that. If its files do not
    /// go together, what played before goes on.
    pub(super) fn play(&mut self) {
        let is_tried = self.end_trial();
        let fresh = self.model.setup();
        let is_due = fresh.is_some() || is_tried;
        self.played = fresh.or(self.played.take());
        if let Some(setup) = self.played.clone().filter(|_| is_due) {
            self.feed.order(Order::Play(Box::new(setup)));
        }
    }

    /// A field of the present slot gets another value; within a movement that is no step yet.
    fn set(&mut self, kind: FileKind, path: &str, value: Setting) {
        let place = Place { slot: self.model.slot, kind };
        let Some(text) = self.model.sheet(kind).with(path, value) else {
            self.model.sentence = Some(format!("{path}: the file has something else there"));
            return;
        };
        let words = super::figure::label(path);
        self.rewrite(place, &words, &text);
    }

    /// Another text for a file, as one step, or as part of the movement that is under way. One
    /// that would bring the first fault is answered with it, and the file stays as it was.
    pub(super) fn rewrite(&mut self, place: Place, words: &str, text: &str) {
        if self.put(place, words, text, false) {
            self.play();
        }
    }

    /// Puts a text into a file; false if nothing has changed. `follows`: it is one step with the
    /// edit before it.
    fn put(&mut self, place: Place, words: &str, text: &str, follows: bool) -> bool {
        let model = &mut self.model;
        let sheet = model.slots[place.slot].sheet_mut(place.kind);
        let before = sheet.text().to_owned();
        let Some(mut edit) = Edit::between(place, words, &before, text) else { return false };
        edit.follows = follows;
        let mut fresh = sheet.clone();
        fresh.rewrite(text);
        model.sentence = fresh.faults().first().map(ToString::to_string);
        // A file that has faults already is mended one by one.
        if model.sentence.is_some() && sheet.faults().is_empty() {
            return false;
        }
        *sheet = fresh;
        match &model.grip {
            Grip::Held => model.grip = Grip::Moved(place, words.to_owned(), before),
            Grip::Moved(held, ..) if *held == place => {}
            Grip::Open | Grip::Moved(..) => model.history.did(edit),
        }
        true
    }

    /// The movement ends: all of it is one step.
    fn release(&mut self) {
        let grip = std::mem::replace(&mut self.model.grip, Grip::Open);
        if let Grip::Moved(place, words, before) = grip {
            let after = self.model.slots[place.slot].sheet(place.kind).text();
            if let Some(edit) = Edit::between(place, &words, &before, after) {
                self.model.history.did(edit);
            }
        }
    }

    fn reset(&mut self, kind: FileKind, path: &str) {
        let place = Place { slot: self.model.slot, kind };
        let sheet = self.model.sheet(kind);
        let entry = self.model.library.find(kind, &sheet.meaning().about().id);
        let theirs = entry.map_or(String::new(), |entry| entry.text.clone());
        if let Some(text) = sheet.with_field_of(path, &theirs) {
            self.rewrite(place, &format!("reset {}", super::figure::label(path)), &text);
        }
    }

    /// One step back or forward. What is held at the time becomes a step first.
    fn step(&mut self, is_forward: bool) {
        let is_held = !matches!(self.model.grip, Grip::Open);
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
            self.model.grip = Grip::Held;
        }
    }

    fn copy_slot(&mut self) {
        let (from, to) = (self.model.slot, 1 - self.model.slot);
        let mut is_changed = false;
        for kind in KINDS {
            let text = self.model.slots[from].sheet(kind).text().to_owned();
            let place = Place { slot: to, kind };
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
        let place = Place { slot: self.model.slot, kind };
        self.model.slots[place.slot].kept[kind as usize] = false;
        self.rewrite(place, &format!("{} {id}", kind.name()), &text);
    }

    fn adopt(&mut self, place: Place) {
        let sheet: &Sheet = self.model.slots[place.slot].sheet(place.kind);
        let id = &sheet.meaning().about().id;
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
        self.model.sentence = match store::save(&path, &text, is_wished) {
            Ok(Saved::Done) => Some(format!("Saved: {}.", path.display())),
            Ok(Saved::Exists) => {
                let said = format!("{}: the file exists. Overwrite it?", path.display());
                self.model.question = Some(Question { path, text });
                Some(said)
            }
            Err(error) => Some(error),
        };
    }

    fn open(&mut self, path: &std::path::Path) {
        self.model.question = None;
        match store::open(path) {
            Ok(sheet) => {
                let place = Place { slot: self.model.slot, kind: sheet.kind() };
                let entry = Entry::of(sheet.meaning());
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
        let sheets = [slot.sheet(FileKind::Instrument), slot.sheet(FileKind::Target)];
        let mut told = Vec::new();
        for (path, text) in store::shared(folder, sheets) {
            told.push(match store::save(&path, &text, false) {
                Ok(Saved::Done) => format!("Saved: {}.", path.display()),
                Ok(Saved::Exists) => format!("{}: the file exists; it was kept.", path.display()),
                Err(error) => error,
            });
        }
        self.model.sentence = Some(told.join(" "));
    }
}
