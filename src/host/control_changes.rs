//! Which of the host's controls have moved since the engine last heard of them.

use super::parameters::Parameters;
use crate::engine::{Input, Parameter};

/// The controls as the engine last heard them. Audio thread.
pub struct ControlChanges {
    knobs: [Option<f64>; Parameter::ALL.len()],
    /// An automation that has never moved leaves the gesture unknown.
    gesture: Option<f64>,
    is_bypass: bool,
    is_resync: bool,
    is_panic: bool,
}

impl ControlChanges {
    /// The most changes at once: every knob, the gesture and three buttons.
    pub const COUNT_MAX: usize = 4 + Parameter::ALL.len();

    /// The engine keeps its knobs through a reset, not the gesture.
    pub const NONE: ControlChanges = ControlChanges {
        knobs: [None; Parameter::ALL.len()],
        gesture: Some(0.0),
        is_bypass: false,
        is_resync: false,
        is_panic: false,
    };

    /// The engine's gesture is this one, or unknown.
    pub fn set_gesture(&mut self, gesture: Option<f64>) {
        self.gesture = gesture;
    }

    /// Tells every control that has moved.
    pub fn tell(&mut self, controls: &Parameters, mut tell: impl FnMut(Input)) {
        for (knob, value) in controls.knobs() {
            let known = &mut self.knobs[knob as usize];
            if *known != Some(value) {
                *known = Some(value);
                tell(Input::Parameter(knob, value));
            }
        }
        let gesture = f64::from(controls.gesture.value());
        if self.gesture != Some(gesture) {
            self.gesture = Some(gesture);
            tell(Input::Gesture(gesture));
        }
        let bypass = controls.stands_aside();
        if bypass != self.is_bypass {
            self.is_bypass = bypass;
            tell(Input::Bypass(bypass));
        }
        let (resync, panic) = (controls.resync.value(), controls.panic.value());
        if resync && !self.is_resync {
            tell(Input::Resync);
        }
        if panic && !self.is_panic {
            tell(Input::Panic);
        }
        (self.is_resync, self.is_panic) = (resync, panic);
    }
}
