//! The patch as it plays: its outputs in the order of their priorities, and what follows from its
//! numbers, worked out once.

use super::controls::Controls;
use super::instrument::{DynamicsPatch, STYLES_MAX, StylePatch};
use super::target::{Address, OUTPUTS_MAX, OutputPatch, Reading, TargetPatch};
use super::whole::Patch;
use crate::input::Channel;
use crate::layer::Layer;
use crate::math::clock::{TICK_S, TICKS_PER_SECOND};

/// The fastest that the level moves, except at a note-on.
pub const SLEW_PER_S: f64 = 8.0;
/// The swing takes a step at least this often, whoever hears it.
pub const SWING_TICKS_MAX: u64 = 5;
/// A value that has not reached its next step is looked at this often.
const LOOKS_PER_INTERVAL: u64 = 5;
/// The gesture whose width moves the whole body (DESIGN 4.3).
const MIDDLING: f64 = 0.5;
/// Within half a step a rounded number is as true as it can be: nothing to be saved.
pub const EXACT_STEPS: f64 = 0.5;

/// How often an output is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutputTiming {
    /// From one message to the next, at least.
    pub interval_ticks: u64,
    /// From one look at a value that needs no message to the next; they are at its multiples.
    pub look_ticks: u64,
    /// Messages are saved: the bound is wider than half a step.
    pub is_thinned: bool,
}

/// A patch and what follows from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// What the files say, changed by the controls; outputs in the order of their priorities.
    pub patch: Patch,
    /// When each output of the patch is looked at.
    pub timings: [OutputTiming; OUTPUTS_MAX],
    /// Style and swing take a step every so many ticks: as often as the pitch goes out, 1..=5.
    pub swing_ticks: u64,
    /// The same in seconds.
    pub swing_s: f64,
    /// The style whose rate and shape stand where the blend has no width.
    pub first_wide: usize,
    /// The performed vibrato goes to the bend wheel, and so does the player's bend.
    pub bends: bool,
    /// The level keeps up with a gesture that moves no further than this in a tick.
    pub level_step_max: f64,
    /// Some output goes to a key's pressure.
    pub presses_keys: bool,
    /// Only dynamics has an address, so it carries the expression too.
    pub carries_expression: bool,
    /// Mode and articulation are told in one way.
    pub shares_switching: bool,
    /// The hand has come up in this song, so that from now on it may take the sound to nothing.
    pub niente_is_open: bool,
    /// Each style's width at gesture 0.5, cents: from there on it moves the whole body.
    pub middling_widths: [f64; STYLES_MAX],
    /// The receiver makes the vibrato itself, so that no swing of ours would keep its time.
    pub drives_vibrato: bool,
    /// The level that swings with the pitch, if the receiver hears one by a law.
    pub swung_level: Option<Layer>,
}

impl Setup {
    /// The hand may take the sound of this instrument to nothing.
    #[inline]
    pub fn may_fall_silent(&self) -> bool {
        self.niente_is_open && self.patch.dynamics.niente
    }

    /// Where a line is heard until a note says otherwise.
    pub fn channel_of(&self, line: u8) -> Channel {
        let home = Channel::new(self.patch.home_channel).unwrap_or(Channel::FIRST);
        let voices = &self.patch.voices;
        match voices.channel(usize::from(line)) {
            Some(own) => own,
            None if voices.share_channel() => home,
            None => home.after(line),
        }
    }

    /// Controls have changed the patch.
    pub fn turn(&mut self, controls: &Controls) {
        controls.apply(&mut self.patch);
        self.level_step_max = level_step_max(&self.patch);
    }

    /// Works out what follows from a patch.
    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    pub fn prepare(patch: &Patch) -> Setup {
        let timing = OutputTiming { interval_ticks: 1, look_ticks: 1, is_thinned: false };
        let mut setup = Setup {
            patch: *patch,
            timings: [timing; OUTPUTS_MAX],
            swing_ticks: SWING_TICKS_MAX,
            swing_s: 0.0,
            first_wide: 0,
            bends: false,
            level_step_max: level_step_max(patch),
            presses_keys: false,
            carries_expression: false,
            shares_switching: false,
            niente_is_open: false,
            middling_widths: [0.0; STYLES_MAX],
            drives_vibrato: drives_vibrato(&patch.target),
            swung_level: swung_level(&patch.target),
        };
        setup.work_out();
        setup
    }

    /// The patch's outputs in their order, and what follows from it, in place: a patch is large.
    fn work_out(&mut self) {
        sort_by_priority(&mut self.patch.target);
        let Patch { target, vibrato, .. } = &self.patch;
        let outputs = target.outputs();
        let pitches = outputs.iter().filter(|output| output.layer == Layer::Pitch);
        self.swing_ticks =
            pitches.map(|it| interval_ticks(it.interval_s)).fold(SWING_TICKS_MAX, u64::min);
        self.swing_s = self.swing_ticks as f64 * TICK_S;
        for (timing, output) in self.timings.iter_mut().zip(&target.outputs) {
            *timing = OutputTiming::of(output, self.swing_ticks);
        }
        let is_wide = |style: &StylePatch| style.width_cents.points().any(|(_, width)| width > 0.0);
        self.first_wide =
            vibrato.styles[..vibrato.style_count].iter().position(is_wide).unwrap_or(0);
        for (width, style) in self.middling_widths.iter_mut().zip(&vibrato.styles) {
            *width = middling_width(style);
        }
        self.bends = outputs.iter().any(|output| output.address == Address::PitchBend);
        self.presses_keys = outputs.iter().any(|it| it.address == Address::PolyPressure);
        self.carries_expression = !outputs.iter().any(|it| it.layer == Layer::Expression);
        self.shares_switching = target.articulation.choice.shares(&target.mode);
    }
}

/// A hair less than what [`SLEW_PER_S`] allows where the curve is steepest.
fn level_step_max(patch: &Patch) -> f64 {
    let DynamicsPatch { floor, ceiling, curve, .. } = &patch.dynamics;
    0.999 * SLEW_PER_S * TICK_S / ((ceiling - floor) * curve.slope_max()).max(f64::MIN_POSITIVE)
}

/// The width from which on a style moves the whole body, cents: that of the middle, or half of the
/// whole where it has none there.
fn middling_width(style: &StylePatch) -> f64 {
    let width = style.width_cents.at(MIDDLING);
    if width > 0.0 { width } else { 0.5 * style.width_cents.at(1.0) }
}

fn drives_vibrato(target: &TargetPatch) -> bool {
    let is_driving = |output: &OutputPatch| {
        let layer = output.layer;
        matches!(layer, Layer::VibratoWidth | Layer::VibratoRate | Layer::Style)
            || matches!(layer, Layer::StyleWeight(_))
    };
    target.outputs().iter().any(is_driving)
}

/// Dynamics where they are heard by a law, else expression, and neither as a position on the
/// receiver's own dynamic layers, which would crossfade at the vibrato's rate.
fn swung_level(target: &TargetPatch) -> Option<Layer> {
    let is_lawful =
        |output: &OutputPatch| matches!(output.reading, Reading::Gm2 | Reading::Table(_));
    let hears = |layer: &Layer| {
        target.outputs().iter().any(|output| output.layer == *layer && is_lawful(output))
    };
    let found = [Layer::Dynamics, Layer::Expression].into_iter().find(hears);
    found.filter(|_| !drives_vibrato(target))
}

impl OutputTiming {
    fn of(patch: &OutputPatch, swing_ticks: u64) -> OutputTiming {
        let interval_ticks = interval_ticks(patch.interval_s);
        let is_thinned = patch.error_bound > EXACT_STEPS;
        // The motion can only be led by one who watches it.
        let looks = if is_thinned { interval_ticks } else { LOOKS_PER_INTERVAL };
        let look_ticks = (interval_ticks / looks).max(1);
        // What need not be quick is looked at with the steps of the swing, all at the same ticks.
        let is_quick = is_thinned || interval_ticks < 2 * SWING_TICKS_MAX;
        let step_ticks = match patch.layer {
            Layer::Pitch => swing_ticks,
            _ if is_quick => 1,
            _ => SWING_TICKS_MAX,
        };
        let look_ticks = look_ticks.next_multiple_of(step_ticks);
        OutputTiming { interval_ticks, look_ticks, is_thinned }
    }
}

impl TargetPatch {
    /// The outputs, as many as there are.
    pub fn outputs(&self) -> &[OutputPatch] {
        &self.outputs[..self.output_count]
    }
}

/// Equal priorities keep the order of the file.
fn sort_by_priority(target: &mut TargetPatch) {
    for end in 1..target.output_count {
        let mut place = end;
        while place > 0 && target.outputs[place - 1].priority > target.outputs[place].priority {
            target.outputs.swap(place - 1, place);
            place -= 1;
        }
    }
}

fn interval_ticks(interval_s: f64) -> u64 {
    (libm::round(interval_s * TICKS_PER_SECOND) as u64).max(1)
}
