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
use crate::editor::feed::{Feed, InputMessage, Order, Setup, Snapshot};
use crate::engine::event::Input;

/// A task for the host's main thread: the window has changed the project.
pub struct Edited;

/// Asks for [`Edited`] to be done, from any thread but the audio thread.
pub type Tell = Arc<dyn Fn() + Send + Sync>;

/// What both share.
pub struct Link {
    /// The controls, and the project's text.
    pub controls: Arc<Parameters>,
    /// What the player shows.
    pub meter: Arc<Meter>,
    pair: Mutex<Pair>,
    context: Mutex<Option<GuiContext>>,
    /// The host will be told, and need not be asked again.
    is_told: AtomicBool,
    /// The window has changed over to its other slot, and the controls have not yet.
    is_turned: AtomicBool,
}

impl Link {
    /// Ties a window that is not open yet.
    pub fn new(controls: Arc<Parameters>, meter: Arc<Meter>) -> Link {
        let pair = Pair::of(&controls.desk.state(), Place::chosen(1, 1));
        Link {
            controls,
            meter,
            pair: Mutex::new(pair),
            context: Mutex::new(None),
            is_told: AtomicBool::new(false),
            is_turned: AtomicBool::new(false),
        }
    }

    /// Which of the project's slots the window shows.
    pub fn pair(&self) -> Pair {
        *lock(&self.pair)
    }

    /// The window shows others.
    pub fn set_pair(&self, pair: Pair) {
        *lock(&self.pair) = pair;
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
            let Place { instrument, target } = self.pair().present();
            turn(&setter, &controls.instrument, instrument as i32 + 1);
            turn(&setter, &controls.target, target as i32 + 1);
        }
        turn(&setter, &controls.edits, (controls.edits.value() + 1) % (EDITS_MAX + 1));
    }

    /// The project keeps what the window plays, and all else that it held.
    fn keep(&self, setup: &Setup, tell: &Tell) {
        let mut pair = self.pair();
        let is_turned = pair.playing != setup.slot;
        pair.playing = setup.slot;
        self.set_pair(pair);
        let desk = &self.controls.desk;
        let mut state = desk.state();
        let before = state.clone();
        pair.write(&mut state, &setup.slots);
        let is_changed = state != before;
        // Also what is not changed is to be played again, in place of a trial.
        desk.put(state);
        if is_turned {
            self.is_turned.store(true, Ordering::Release);
        }
        if (is_changed || is_turned) && !self.is_told.swap(true, Ordering::AcqRel) {
            tell();
        }
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
    fn read(&mut self) -> Option<Snapshot> {
        let frame = self.link.meter.read()?;
        let super::meter::Frame { at_s, view, losses, sent } = frame;
        Some(Snapshot { at_s, view, losses, sent })
    }

    fn hear(&mut self) -> Option<InputMessage> {
        let super::meter::Heard { at_s, message } = self.link.meter.hear()?;
        Some(InputMessage { at_s, message })
    }

    fn order(&mut self, order: Order) {
        match order {
            Order::Play(setup) => self.link.keep(&setup, &self.tell),
            Order::Try(patch) => self.link.controls.desk.try_out(&patch),
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
