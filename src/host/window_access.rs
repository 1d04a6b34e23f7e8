//! What the window may do with the plugin: its orders go to the player and into the project, and
//! the host is told that there is something to save.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nice_plug::context::gui::{GuiContext, ParamSetter};
use nice_plug::prelude::Param;

use super::kept_performance::KeptPerformance;
use super::live_values::LiveValues;
use super::parameters::{EDITS_MAX, Parameters};
use super::performed::PerformanceReader;
use super::window_slots::{SlotPlace, WindowSlots};
use crate::editor::feed::ChosenSetup;
use crate::engine::patch::Patch;
use crate::profile::wish::SongStretch;

/// What is done on another thread than the one that asks for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WindowTask {
    /// The host's main thread: the window has changed the project.
    TellHost,
}

/// Any thread but the audio thread. Asks for [`WindowTask::TellHost`] to be done.
pub type TellHost = Arc<dyn Fn() + Send + Sync>;

/// What the window shows of the host's project.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShownProject {
    /// Which of its slots.
    pub slots: WindowSlots,
    /// Which project: how many the host had opened up to it.
    pub openings: u64,
}

/// What the plugin and its window share.
pub struct WindowAccess {
    /// The controls, and the project's text.
    pub controls: Arc<Parameters>,
    /// What the player shows.
    pub live_values: Arc<LiveValues>,
    shown: Mutex<ShownProject>,
    context: Mutex<Option<GuiContext>>,
    /// The host will be told, and need not be asked again.
    is_told: AtomicBool,
    /// The window has changed over to its other slot, and the controls have not yet.
    is_turned: AtomicBool,
    /// What was changed in the window belongs to a project that the host has closed.
    is_outdated: AtomicBool,
    /// The window has turned the track to printed or back, and the control has not yet.
    is_printed: Mutex<Option<bool>>,
    performance: Mutex<(PerformanceReader, KeptPerformance)>,
}

impl WindowAccess {
    /// Off the audio thread. For a window that is not open yet.
    pub fn new(
        controls: Arc<Parameters>,
        live_values: Arc<LiveValues>,
        reader: PerformanceReader,
    ) -> WindowAccess {
        let (state, openings) = controls.project.opened();
        let slots = WindowSlots::of(&state, SlotPlace::chosen(1, 1));
        let shown = ShownProject { slots, openings };
        WindowAccess {
            controls,
            live_values,
            shown: Mutex::new(shown),
            context: Mutex::new(None),
            is_told: AtomicBool::new(false),
            is_turned: AtomicBool::new(false),
            is_outdated: AtomicBool::new(false),
            is_printed: Mutex::new(None),
            performance: Mutex::new((reader, KeptPerformance::default())),
        }
    }

    /// Off the audio thread. What the window shows.
    pub fn shown(&self) -> ShownProject {
        *lock(&self.shown)
    }

    /// The window's thread. The window shows something else.
    pub fn show(&self, shown: ShownProject) {
        *lock(&self.shown) = shown;
    }

    /// The window's thread. Whether something was changed since the last call in a project that is
    /// not there any more, and so was not done.
    pub fn was_outdated(&self) -> bool {
        self.is_outdated.swap(false, Ordering::AcqRel)
    }

    /// The host's main thread. By what the host is told of changes, from now on.
    pub fn set_context(&self, context: GuiContext) {
        *lock(&self.context) = Some(context);
    }

    /// The thread that the task is for.
    pub fn fulfil(&self, task: WindowTask) {
        match task {
            WindowTask::TellHost => self.tell_host(),
        }
    }

    /// Any thread but the audio thread. Gathers what was performed up to now, and looks at it.
    pub fn with_performance<T>(&self, look: impl FnOnce(&KeptPerformance) -> T) -> T {
        let mut gathered = lock(&self.performance);
        let (reader, performance) = &mut *gathered;
        while let Some(event) = reader.read() {
            performance.take(event);
        }
        performance.lose(reader.take_lost());
        look(performance)
    }

    /// The host's main thread. Tells the host that the project is not what it was; a changed text
    /// alone it would not notice.
    pub fn tell_host(&self) {
        self.is_told.store(false, Ordering::Release);
        let Some(context) = lock(&self.context).clone() else { return };
        let (setter, controls) = (context.param_setter(), &self.controls);
        if self.is_turned.swap(false, Ordering::AcqRel) {
            let SlotPlace { instrument, target } = self.shown().slots.present();
            turn(&setter, &controls.instrument, instrument as i32 + 1);
            turn(&setter, &controls.target, target as i32 + 1);
        }
        if let Some(is_printed) = lock(&self.is_printed).take() {
            turn(&setter, &controls.printed, is_printed);
        }
        turn(&setter, &controls.edits, (controls.edits.value() + 1) % (EDITS_MAX + 1));
    }

    /// The window's thread. The project keeps what the window plays, and all else that it held. A
    /// change that comes after the host has opened another project is not made.
    pub fn keep(&self, setup: &ChosenSetup, tell: &TellHost) {
        let ShownProject { mut slots, openings } = self.shown();
        let is_turned = slots.playing != setup.slot;
        slots.playing = setup.slot;
        let edited = self.controls.project.edit(openings, |state| slots.write(state, &setup.slots));
        let Ok(is_changed) = edited else { return self.say_outdated() };
        self.show(ShownProject { slots, openings });
        if is_turned {
            self.is_turned.store(true, Ordering::Release);
        }
        if (is_changed || is_turned) && !self.is_told.swap(true, Ordering::AcqRel) {
            tell();
        }
    }

    /// The window's thread. The project asks this of the song's stretches, and plays it.
    pub fn ask(&self, stretches: &[SongStretch], tell: &TellHost) {
        let ShownProject { openings, .. } = self.shown();
        let project = &self.controls.project;
        match project.edit(openings, |state| state.set_stretches(stretches)) {
            Err(_) => self.say_outdated(),
            Ok(is_changed) if is_changed && !self.is_told.swap(true, Ordering::AcqRel) => tell(),
            Ok(_) => {}
        }
    }

    /// The window's thread. Plays a patch that the project does not keep.
    pub fn try_out(&self, patch: &Patch) {
        if self.controls.project.try_out(self.shown().openings, patch).is_err() {
            self.say_outdated();
        }
    }

    /// The window's thread. What is recorded from now on takes the place of the lane that is there,
    /// and this computer's hand with it.
    pub fn record_anew(&self, tell: &TellHost) {
        let openings = self.shown().openings;
        let edited = self.controls.project.edit(openings, |state| state.set_hand_recorded(false));
        if edited.is_err() {
            self.say_outdated();
        } else if !self.is_told.swap(true, Ordering::AcqRel) {
            tell();
        }
    }

    /// The window's thread. The track was printed, or follows the hand again.
    pub fn set_printed(&self, is_printed: bool, tell: &TellHost) {
        *lock(&self.is_printed) = Some(is_printed);
        if !self.is_told.swap(true, Ordering::AcqRel) {
            tell();
        }
    }

    fn say_outdated(&self) {
        self.is_outdated.store(true, Ordering::Release);
    }
}

fn turn<P: Param<Plain: Copy + PartialEq>>(setter: &ParamSetter, control: &P, value: P::Plain) {
    if control.modulated_plain_value() != value {
        setter.begin_set_parameter(control);
        setter.set_parameter(control, value);
        setter.end_set_parameter(control);
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
