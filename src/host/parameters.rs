//! The controls that a host can automate; every one leaves the files as they are until it moves.

use std::sync::Arc;

use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{BoolParam, FloatParam, FloatRange, IntParam, IntRange, Params};

use super::project::Project;
use super::state::SLOTS_MAX;
use crate::engine::Parameter;

/// Where the count of edits begins anew.
pub const EDITS_MAX: i32 = 9999;
/// The word for a style that the gesture decides.
const BY_GESTURE: &str = "by gesture";
/// The style's lane: its lowest step leaves the style to the gesture, then follow 0 to 100 %. High
/// enough for a hand to draw, low enough to be no half of the lane.
const STYLE_LANE: StyleLane = StyleLane { min: -0.05, by_gesture_below: -0.025 };
/// The lane of the first projects, half of which left the style to the gesture.
const STYLE_LANE_OLD: StyleLane = StyleLane { min: -1.0, by_gesture_below: 0.0 };

/// From where to where a lane leaves the style to the gesture. What is between that and 0 is 0: a
/// host's numbers are rounded.
#[derive(Clone, Copy)]
struct StyleLane {
    min: f32,
    by_gesture_below: f32,
}

impl StyleLane {
    /// The position on the ordered list of styles, 0..=1, unless the gesture decides.
    fn position(self, value: f32) -> Option<f32> {
        (value >= self.by_gesture_below).then(|| value.max(0.0))
    }
}

/// The controls, and the text that is kept with the project. The ids never change. Any thread reads
/// the controls without waiting; only the host sets them.
#[derive(Params)]
#[allow(unsafe_code, reason = "the derive promises that the controls outlive their pointers")]
pub struct Parameters {
    /// The project's text (see [`super::state`]).
    #[persist = "state"]
    pub project: Project,

    /// The gesture, drawn or played into an automation lane.
    #[id = "gestur"]
    pub gesture: FloatParam,
    /// [`Parameter::Weight`]
    #[id = "weight"]
    pub weight: FloatParam,
    /// [`Parameter::Floor`]
    #[id = "floor"]
    pub floor: FloatParam,
    /// [`Parameter::Ceiling`]
    #[id = "ceilng"]
    pub ceiling: FloatParam,
    /// [`Parameter::VibratoWidth`]
    #[id = "vwidth"]
    pub vibrato_width: FloatParam,
    /// [`Parameter::VibratoRate`]
    #[id = "vrate"]
    pub vibrato_rate: FloatParam,
    /// [`Parameter::Onset`]
    #[id = "onset"]
    pub onset: FloatParam,
    /// [`Parameter::Style`]: the lowest step of its lane leaves the style to the gesture, above it
    /// stands the position from 0 to 100 %.
    #[id = "vstyle"]
    pub style: FloatParam,
    /// [`Parameter::Tail`]
    #[id = "tail"]
    pub tail: FloatParam,
    /// [`Parameter::Imperfection`]
    #[id = "imperf"]
    pub imperfection: FloatParam,
    /// [`Parameter::Seed`]
    #[id = "seed"]
    pub seed: IntParam,
    /// Which of the state's instruments, from 1.
    #[id = "instr"]
    pub instrument: IntParam,
    /// Which of the state's targets, from 1.
    #[id = "target"]
    pub target: IntParam,
    /// Everything passes untouched.
    #[id = "bypass"]
    pub bypass: BoolParam,
    /// What is on the track was printed: everything passes untouched, as under a bypass, and the
    /// project keeps it so.
    #[id = "printd"]
    pub printed: BoolParam,
    /// Turning it on sends every output again.
    #[id = "resync"]
    pub resync: BoolParam,
    /// Turning it on ends every note and puts every output to rest.
    #[id = "panic"]
    pub panic: BoolParam,
    /// The same as it was in the first projects, where the lower half of the lane left the style to
    /// the gesture. Their automation goes on meaning what it meant; it plays while
    /// [`Parameters::style`] leaves the style to the gesture.
    #[id = "style"]
    pub style_old: FloatParam,
    /// How often the window has changed the project's text. A host notices by it that there is
    /// something to save; nobody is to see or automate it.
    #[id = "edits"]
    pub edits: IntParam,
}

impl Parameters {
    /// Off the audio thread. Every control at its neutral value, over the shipped state.
    pub fn neutral() -> Parameters {
        let slots = IntRange::Linear { min: 1, max: SLOTS_MAX as i32 };
        let seeds = IntRange::Linear { min: 0, max: range(Parameter::Seed).2 as i32 };
        Parameters {
            project: Project::shipped(),
            gesture: percent("Gesture", (0.0, 0.0, 1.0)),
            weight: factor("Weight", Parameter::Weight),
            floor: percent("Dynamics floor", range(Parameter::Floor)),
            ceiling: percent("Dynamics ceiling", range(Parameter::Ceiling)),
            vibrato_width: percent("Vibrato width", range(Parameter::VibratoWidth)),
            vibrato_rate: percent("Vibrato rate", range(Parameter::VibratoRate)),
            onset: percent("Vibrato onset", range(Parameter::Onset)),
            style: style("Vibrato style", STYLE_LANE),
            tail: percent("Tail", range(Parameter::Tail)),
            imperfection: percent("Imperfection", range(Parameter::Imperfection)),
            seed: IntParam::new("Seed", 0, seeds),
            instrument: IntParam::new("Instrument slot", 1, slots),
            target: IntParam::new("Target slot", 1, slots),
            bypass: switch("Bypass", ["off", "on"]).make_bypass(),
            printed: switch("Printed", ["follows the hand", "printed"]),
            resync: switch("Resync", ["off", "on"]),
            panic: switch("Panic", ["off", "on"]),
            style_old: style("Vibrato style (first projects)", STYLE_LANE_OLD),
            edits: IntParam::new("Edits", 0, IntRange::Linear { min: 0, max: EDITS_MAX })
                .hide()
                .non_automatable(),
        }
    }

    /// Off the audio thread. Every control's id and present value, as a state names them.
    pub fn values(&self) -> Vec<(&'static str, ParamValue)> {
        let float = |id, control: &FloatParam| (id, ParamValue::F32(control.value()));
        let int = |id, control: &IntParam| (id, ParamValue::I32(control.value()));
        let switch = |id, control: &BoolParam| (id, ParamValue::Bool(control.value()));
        vec![
            float("gestur", &self.gesture),
            float("weight", &self.weight),
            float("floor", &self.floor),
            float("ceilng", &self.ceiling),
            float("vwidth", &self.vibrato_width),
            float("vrate", &self.vibrato_rate),
            float("onset", &self.onset),
            float("vstyle", &self.style),
            float("tail", &self.tail),
            float("imperf", &self.imperfection),
            int("seed", &self.seed),
            int("instr", &self.instrument),
            int("target", &self.target),
            switch("bypass", &self.bypass),
            switch("printd", &self.printed),
            switch("resync", &self.resync),
            switch("panic", &self.panic),
            float("style", &self.style_old),
            int("edits", &self.edits),
        ]
    }

    /// Any thread, never waits. The present value of each of the engine's knobs, in its unit.
    pub fn knobs(&self) -> [(Parameter, f64); Parameter::ALL.len()] {
        Parameter::ALL.map(|knob| {
            let value = match knob {
                Parameter::Weight => self.weight.value(),
                Parameter::Floor => self.floor.value(),
                Parameter::Ceiling => self.ceiling.value(),
                Parameter::VibratoWidth => self.vibrato_width.value(),
                Parameter::VibratoRate => self.vibrato_rate.value(),
                Parameter::Onset => self.onset.value(),
                Parameter::Style => self.style_position(),
                Parameter::Tail => self.tail.value(),
                Parameter::Imperfection => self.imperfection.value(),
                Parameter::Seed => return (knob, f64::from(self.seed.value())),
            };
            (knob, f64::from(value))
        })
    }

    /// Any thread, never waits. Everything passes untouched.
    pub fn stands_aside(&self) -> bool {
        self.bypass.value() || self.printed.value()
    }

    /// What the style's two controls say together: below 0, where both leave it to the gesture.
    fn style_position(&self) -> f32 {
        let position = STYLE_LANE.position(self.style.value());
        let position = position.or_else(|| STYLE_LANE_OLD.position(self.style_old.value()));
        position.unwrap_or(range(Parameter::Style).1)
    }
}

/// Lowest, neutral and highest value of a knob.
fn range(knob: Parameter) -> (f32, f32, f32) {
    let (low, neutral, high) = knob.range();
    (low as f32, neutral as f32, high as f32)
}

/// A control shown in per cent.
fn percent(name: &str, (min, neutral, max): (f32, f32, f32)) -> FloatParam {
    FloatParam::new(name, neutral, FloatRange::Linear { min, max })
        .with_unit(" %")
        .with_value_to_string(Arc::new(|value| format!("{:.1}", value * 100.0)))
        .with_string_to_value(Arc::new(|text| Some(number(text, "%")? / 100.0)))
}

/// A control shown as a factor.
fn factor(name: &str, knob: Parameter) -> FloatParam {
    let (min, neutral, max) = range(knob);
    FloatParam::new(name, neutral, FloatRange::Linear { min, max })
        .with_unit(" x")
        .with_value_to_string(Arc::new(|value| format!("{value:.2}")))
        .with_string_to_value(Arc::new(|text| number(text, "x")))
}

/// The style: a position in per cent, or by the gesture.
fn style(name: &str, lane: StyleLane) -> FloatParam {
    let (.., max) = range(Parameter::Style);
    let min = lane.min;
    let say = move |value: f32| match lane.position(value) {
        Some(position) => format!("{:.1} %", position * 100.0),
        None => BY_GESTURE.to_owned(),
    };
    let hear = move |text: &str| {
        if text.trim().eq_ignore_ascii_case(BY_GESTURE) {
            return Some(min);
        }
        Some(number(text, "%")? / 100.0)
    };
    FloatParam::new(name, min, FloatRange::Linear { min, max })
        .with_value_to_string(Arc::new(say))
        .with_string_to_value(Arc::new(hear))
}

/// A switch, with the words for off and on.
fn switch(name: &str, words: [&'static str; 2]) -> BoolParam {
    let say = move |is_on: bool| words[usize::from(is_on)].to_owned();
    let hear = move |text: &str| {
        let said = text.trim();
        words.iter().position(|word| word.eq_ignore_ascii_case(said)).map(|place| place == 1)
    };
    BoolParam::new(name, false)
        .with_value_to_string(Arc::new(say))
        .with_string_to_value(Arc::new(hear))
}

/// A number with or without its unit.
fn number(text: &str, unit: &str) -> Option<f32> {
    let bare = text.trim().trim_end_matches(unit).trim();
    bare.parse::<f32>().ok().filter(|value| value.is_finite())
}
