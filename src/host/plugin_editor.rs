//! What is seen in the plugin's window: the editor over the project, kept up with the host.

use std::sync::Arc;

use super::plugin_feed::PluginFeed;
use super::state::State;
use super::window_access::{ShownProject, WindowAccess};
use super::window_slots::{SlotPlace, WindowSlots};
use crate::editor::Editor;
use crate::editor::act::Act;
use crate::editor::model::Model;
use crate::editor::window::FrameTimer;

/// What is said of a change that came too late.
const OUTDATED: &str = "The host opened another project just then. What you changed belongs to the \
                        one before, and was not done.";

/// The editor, from the first opening of the window on. The window's thread, but for `new`,
/// `begin_showing` and `close`, which the host's main thread calls.
pub struct PluginEditor {
    access: Arc<WindowAccess>,
    /// Until the first opening.
    feed: Option<PluginFeed>,
    editor: Option<Editor>,
    pace: FrameTimer,
    /// As the host last had them: how many projects it has opened, what its controls choose, and
    /// whether the lane was recorded, since the project takes another hand with that.
    openings: u64,
    chosen: SlotPlace,
    is_recorded: bool,
}

impl PluginEditor {
    /// Nothing is seen yet.
    pub fn new(access: Arc<WindowAccess>, feed: PluginFeed) -> PluginEditor {
        let chosen = SlotPlace::chosen(1, 1);
        PluginEditor {
            access,
            feed: Some(feed),
            editor: None,
            pace: FrameTimer::default(),
            openings: 0,
            chosen,
            is_recorded: false,
        }
    }

    /// The window is opened.
    pub fn open(&mut self) {
        self.access.live_values.skip();
        self.pace = FrameTimer::default();
        if let Some(feed) = self.feed.take() {
            self.chosen = self.present();
            self.editor = Some(self.first(feed));
            self.say_complaint();
        }
    }

    /// The host's main thread. The window is about to be shown, once or again.
    pub fn begin_showing(&mut self) {
        self.pace = FrameTimer::default();
    }

    /// Draws a frame of what is now.
    pub fn frame(&mut self, ui: &mut egui::Ui) {
        self.follow();
        if let Some(editor) = &mut self.editor {
            if self.access.was_outdated() {
                editor.act(Act::Say(OUTDATED.to_owned()));
            }
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
    fn first(&mut self, feed: PluginFeed) -> Editor {
        let (state, openings) = self.access.controls.project.opened();
        (self.openings, self.is_recorded) = (openings, state.hand_is_recorded());
        let slots = WindowSlots::of(&state, self.chosen);
        let model = Model::open(&slots.texts(&state), slots.playing, state.seed());
        let (model, slots) = match model {
            Ok(model) => (model, slots),
            // A state that plays has no faults, so this is none.
            Err(_) => {
                let state = State::shipped();
                let slots = WindowSlots::of(&state, SlotPlace::chosen(1, 1));
                let model = Model::open(&slots.texts(&state), slots.playing, state.seed());
                (model.expect("the shipped files are in order"), slots)
            }
        };
        self.access.show(ShownProject { slots, openings });
        Editor::new(model, Box::new(feed))
    }

    /// Catches up with the host: another project, another slot, or a hand that was recorded.
    fn follow(&mut self) {
        let (openings, chosen) = (self.access.controls.project.openings(), self.present());
        let (_, is_recorded) = self.access.controls.project.hands();
        let is_other_project = openings != self.openings || is_recorded != self.is_recorded;
        if !is_other_project && chosen == self.chosen {
            return;
        }
        self.chosen = chosen;
        let Some(editor) = &mut self.editor else { return };
        let ShownProject { mut slots, openings } = self.access.shown();
        let slot = slots.places.iter().position(|place| *place == chosen);
        if let Some(slot) = slot.filter(|_| !is_other_project) {
            slots.playing = slot;
            self.access.show(ShownProject { slots, openings });
            editor.turn_to(slot);
            return;
        }
        let (state, openings) = self.access.controls.project.opened();
        (self.openings, self.is_recorded) = (openings, is_recorded);
        let slots = WindowSlots::of(&state, chosen);
        match editor.reopen(&slots.texts(&state), slots.playing, state.seed()) {
            Ok(()) => self.access.show(ShownProject { slots, openings }),
            // What is changed from here on belongs to the project that is still shown.
            Err(faults) => {
                let sentences: Vec<String> = faults.iter().map(ToString::to_string).collect();
                editor.act(Act::Say(sentences.join(" ")));
            }
        }
        self.say_complaint();
    }

    /// A project whose text cannot be played is kept, and one that an older engine played sounds
    /// different; whoever changes something here is to know.
    fn say_complaint(&mut self) {
        let project = &self.access.controls.project;
        let unplayed = project.complaint().map(|complaint| {
            let first = complaint.lines().next().unwrap_or_default();
            format!(
                "This project cannot be played, and is kept as it is until something is changed \
                 here: {first}"
            )
        });
        let sentence = unplayed.or_else(|| project.other_revision());
        if let (Some(sentence), Some(editor)) = (sentence, &mut self.editor) {
            editor.act(Act::Say(sentence));
        }
    }

    fn present(&self) -> SlotPlace {
        let controls = &self.access.controls;
        SlotPlace::chosen(controls.instrument.value(), controls.target.value())
    }
}
