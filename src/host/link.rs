//! What the plugin and its window share: the window's orders go to the player and into the project,
//! and the host is told that there is something to save.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nice_plug::context::gui::{GuiContext, ParamSetter};
use nice_plug::prelude::IntParam;

use super::meter::Meter;
use super::pair::{Pair, Place};
use super::parameters::{EDITS_MAX, Parameters};
use crate::editor::feed::{Feed, Heard, Moment, Order, Setup};
use crate::engine::event::Input;
use crate::engine::patch::Patch;

/// A task for the host's main thread: the window has changed the project.
pub struct Edited;

/// Asks for [`Edited`] to be done, from any thread but the audio thread.
pub type Tell = Arc<dyn Fn() + Send + Sync>;

/// What the window shows of the host's project.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Which of its slots.
    pub pair: Pair,
    /// Which project: how many the host had opened up to it.
    pub openings: u64,
}

/// What both share.
pub struct Link {
    /// The controls, and the project's text.
    pub controls: Arc<Parameters>,
    /// What the player shows.
    pub meter: Arc<Meter>,
    shown: Mutex<Shown>,
    context: Mutex<Option<GuiContext>>,
    /// The host will be told, and need not be asked again.
    is_told: AtomicBool,
    /// The window has changed over to its other slot, and the controls have not yet.
    is_turned: AtomicBool,
    /// What was changed in the window belongs to a project that the host has closed.
    is_outdated: AtomicBool,
}

impl Link {
    /// Ties a window that is not open yet.
    pub fn new(controls: Arc<Parameters>, meter: Arc<Meter>) -> Link {
        let (state, openings) = controls.desk.opened();
        let shown = Shown { pair: Pair::of(&state, Place::chosen(1, 1)), openings };
        Link {
            controls,
            meter,
            shown: Mutex::new(shown),
            context: Mutex::new(None),
            is_told: AtomicBool::new(false),
            is_turned: AtomicBool::new(false),
            is_outdated: AtomicBool::new(false),
        }
    }

    /// What the window shows.
    pub fn shown(&self) -> Shown {
        *lock(&self.shown)
    }

    /// The window shows something else.
    pub fn show(&self, shown: Shown) {
        *lock(&self.shown) = shown;
    }

    /// Whether something was changed since the last call in a project that is not there any more,
    /// and so was not done.
    pub fn was_outdated(&self) -> bool {
        self.is_outdated.swap(false, Ordering::AcqRel)
    }

    /// By what the host is told of changes, from now on.
    pub fn set_context(&self, context: GuiContext) {
        *lock(&self.context) = Some(context);
    }

    /// On the host's main thread: tells it that the project is not what it was. A changed text alone
    /// it would not notice.
    pub fn tell(&self) {
        self.is_told.store(false, Ordering::Release);
        let Some(context) = lock(&self.context).clone() else { return };
        let (setter, controls) = (context.param_setter(), &self.controls);
        if self.is_turned.swap(false, Ordering::AcqRel) {
            let Place { instrument, target } = self.shown().pair.present();
            turn(&setter, &controls.instrument, instrument as i32 + 1);
            turn(&setter, &controls.target, target as i32 + 1);
        }
        turn(&setter, &controls.edits, (controls.edits.value() + 1) % (EDITS_MAX + 1));
    }

    /// The window's thread. The project keeps what the window plays, and all else that it held.
    fn keep(&self, setup: &Setup, tell: &Tell) {
        let Shown { mut pair, openings } = self.shown();
        let is_turned = pair.playing != setup.slot;
        pair.playing = setup.slot;
        let edited = self.controls.desk.edit(openings, |state| pair.write(state, &setup.slots));
        let Ok(is_changed) = edited else { return self.say_outdated() };
        self.show(Shown { pair, openings });
        if is_turned {
            self.is_turned.store(true, Ordering::Release);
        }
        if (is_changed || is_turned) && !self.is_told.swap(true, Ordering::AcqRel) {
            tell();
        }
    }

    /// The window's thread. Plays a patch that the project does not keep.
    fn try_out(&self, patch: &Patch) {
        if self.controls.desk.try_out(self.shown().openings, patch).is_err() {
            self.say_outdated();
        }
    }

    fn say_outdated(&self) {
        self.is_outdated.store(true, Ordering::Release);
    }
}

fn turn(setter: &ParamSetter, control: &IntParam, value: i32) {
    if control.value() != value {
        setter.begin_set_parameter(control);
        setter.set_parameter(control, value);
        setter.end_set_parameter(control);
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The plugin as whoever plays the line behind the window.
pub struct Live {
    link: Arc<Link>,
    tell: Tell,
    /// Wishes that the player has no room for, since the host does not play.
    owed: VecDeque<Input>,
}

impl Live {
    /// The window's opening to the plugin.
    pub fn new(link: Arc<Link>, tell: Tell) -> Live {
        Live { link, tell, owed: VecDeque::new() }
    }

    /// Of gestures in a row only the last counts, so what is owed does not grow.
    fn owe(&mut self, input: Input) {
        if let (Some(Input::Gesture(_)), Input::Gesture(_)) = (self.owed.back(), input) {
            self.owed.pop_back();
        }
        self.owed.push_back(input);
    }

    fn pay(&mut self) {
        while let Some(input) = self.owed.front()
            && self.link.meter.wish(*input)
        {
            self.owed.pop_front();
        }
    }
}

impl Feed for Live {
    fn read(&mut self) -> Option<Moment> {
        let frame = self.link.meter.read()?;
        let super::meter::Frame { at_s, view, losses, sent } = frame;
        Some(Moment { at_s, view, losses, sent })
    }

    fn hear(&mut self) -> Option<Heard> {
        let super::meter::Heard { at_s, message } = self.link.meter.hear()?;
        Some(Heard { at_s, message })
    }

    fn order(&mut self, order: Order) {
        match order {
            Order::Play(setup) => self.link.keep(&setup, &self.tell),
            Order::Try(patch) => self.link.try_out(&patch),
            Order::Input(input) => {
                self.owe(input);
                self.pay();
            }
        }
    }

    fn pass(&mut self, _: f64) {
        self.pay();
    }
}
