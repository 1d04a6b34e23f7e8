//! What is seen in the plugin's window: the editor over the project, kept up with the host.

use std::sync::Arc;

use super::link::{Link, Live};
use super::pair::{Pair, Place};
use super::state::State;
use crate::editor::Editor;
use crate::editor::act::Act;
use crate::editor::model::Model;
use crate::editor::window::FrameTimer;

/// The editor, from the first opening of the window on.
pub struct Glass {
    link: Arc<Link>,
    /// Until the first opening.
    live: Option<Live>,
    editor: Option<Editor>,
    pace: FrameTimer,
    /// As the host last had them: how many projects it has opened, and what its controls choose.
    openings: u64,
    chosen: Place,
}

impl Glass {
    /// Nothing is seen yet.
    pub fn new(link: Arc<Link>, live: Live) -> Glass {
        let chosen = Place::chosen(1, 1);
        Glass {
            link,
            live: Some(live),
            editor: None,
            pace: FrameTimer::default(),
            openings: 0,
            chosen,
        }
    }

    /// The window is opened.
    pub fn open(&mut self) {
        self.link.meter.skip();
        self.pace = FrameTimer::default();
        if let Some(live) = self.live.take() {
            self.openings = self.link.controls.desk.openings();
            self.chosen = self.present();
            self.editor = Some(self.first(live));
            self.say_complaint();
        }
    }

    /// Draws a frame of what is now.
    pub fn frame(&mut self, ui: &mut egui::Ui) {
        self.follow();
        if let Some(editor) = &mut self.editor {
            self.pace.frame(editor, ui);
        }
    }

    /// The window is closed. Nobody would end what it had begun.
    pub fn close(&mut self) {
        if let Some(editor) = &mut self.editor {
            for act in [Act::Test(None), Act::Learn(false), Act::Release] {
                editor.act(act);
            }
        }
    }

    /// The editor of the first opening.
    fn first(&mut self, live: Live) -> Editor {
        let state = self.link.controls.desk.state();
        let pair = Pair::of(&state, self.chosen);
        let model = Model::open(&pair.texts(&state), pair.playing, state.seed());
        let (model, pair) = match model {
            Ok(model) => (model, pair),
            // A state that plays has no faults, so this is none.
            Err(_) => {
                let state = State::shipped();
                let pair = Pair::of(&state, Place::chosen(1, 1));
                let model = Model::open(&pair.texts(&state), pair.playing, state.seed());
                (model.expect("the shipped files are in order"), pair)
            }
        };
        self.link.set_pair(pair);
        Editor::new(model, Box::new(live))
    }

    /// Catches up with the host: another project, or another slot.
    fn follow(&mut self) {
        let (openings, chosen) = (self.link.controls.desk.openings(), self.present());
        let is_other_project = openings != self.openings;
        if !is_other_project && chosen == self.chosen {
            return;
        }
        (self.openings, self.chosen) = (openings, chosen);
        let Some(editor) = &mut self.editor else { return };
        let mut pair = self.link.pair();
        let slot = pair.places.iter().position(|place| *place == chosen);
        if let Some(slot) = slot.filter(|_| !is_other_project) {
            pair.playing = slot;
            self.link.set_pair(pair);
            editor.turn_to(slot);
            return;
        }
        let state = self.link.controls.desk.state();
        let pair = Pair::of(&state, chosen);
        match editor.reopen(&pair.texts(&state), pair.playing, state.seed()) {
            Ok(()) => self.link.set_pair(pair),
            Err(faults) => {
                let sentences: Vec<String> = faults.iter().map(ToString::to_string).collect();
                editor.act(Act::Say(sentences.join(" ")));
            }
        }
        self.say_complaint();
    }

    /// A project whose text cannot be played is kept; whoever changes something here is to know.
    fn say_complaint(&mut self) {
        let complaint = self.link.controls.desk.complaint();
        if let (Some(complaint), Some(editor)) = (complaint, &mut self.editor) {
            let first = complaint.lines().next().unwrap_or_default();
            editor.act(Act::Say(format!(
                "This project cannot be played, and is kept as it is until something is changed \
                 here: {first}"
            )));
        }
    }

    fn present(&self) -> Place {
        let controls = &self.link.controls;
        Place::chosen(controls.instrument.value(), controls.target.value())
    }
}
