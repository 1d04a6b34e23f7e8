//! The controls as they stand while the line plays, and what is asked for at this place of the song, on
//! top of what the files say.

use super::retouch::Retouched;
use super::whole::Patch;
use crate::input::Parameter;

/// The most that imperfection may spread rate and width, shares (DESIGN 4.3).
const RATE_SPREAD_MAX: f64 = 0.16;
const WIDTH_SPREAD_MAX: f64 = 0.25;
/// The most that the width may arch over a long note, share (DESIGN 4.3).
const ARCH_MAX: f64 = 0.15;
/// The lightest and the heaviest hand.
const WEIGHT_MIN: f64 = 0.5;
const WEIGHT_MAX: f64 = 3.0;

/// Where every control stands, and what the files say without them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Controls {
    values: [f64; Parameter::ALL.len()],
    retouched: Retouched,
    said: Said,
}

/// The numbers of the files that a control changes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Said {
    weight: f64,
    floor: f64,
    ceiling: f64,
    onset_s: f64,
    tail_s: f64,
    rate_spread: f64,
    width_spread: f64,
    seed: u64,
    arch: f64,
}

impl Controls {
    /// All at neutral.
    pub fn prepare(patch: &Patch) -> Controls {
        Controls {
            values: Parameter::ALL.map(|each| each.range().1),
            retouched: Retouched::NONE,
            said: Said::of(patch),
        }
    }

    /// Other files; the controls stay where they are.
    pub fn load(&mut self, patch: &Patch) {
        self.said = Said::of(patch);
    }

    /// Turns a control.
    pub fn turn(&mut self, parameter: Parameter, value: f64) {
        self.values[parameter as usize] = parameter.within(value);
    }

    /// What is asked for at this place of the song; false if it was asked for before.
    pub fn retouch(&mut self, retouched: Retouched) -> bool {
        core::mem::replace(&mut self.retouched, retouched) != retouched
    }

    /// What is asked for.
    pub fn retouched(&self) -> Retouched {
        self.retouched
    }

    /// Writes what files, controls and retouches say together.
    pub fn apply(&self, patch: &mut Patch) {
        let Said { weight, floor, ceiling, onset_s, tail_s, .. } = self.said;
        let Retouched { width, rate_hz, level_db, tail } = self.retouched;
        let value = |parameter: Parameter| self.values[parameter as usize];
        patch.hand.weight = (weight * value(Parameter::Weight)).clamp(WEIGHT_MIN, WEIGHT_MAX);
        let level =
            |share: f64| if share == 1.0 { ceiling } else { floor + (ceiling - floor) * share };
        patch.dynamics.floor = level(value(Parameter::Floor));
        patch.dynamics.ceiling = level(value(Parameter::Ceiling)).max(patch.dynamics.floor);
        patch.dynamics.shift = level_db / patch.dynamics.span_db;
        let style = value(Parameter::Style);
        let imperfection = value(Parameter::Imperfection);
        let vibrato = &mut patch.vibrato;
        vibrato.width_scale = value(Parameter::VibratoWidth) * width;
        vibrato.rate_scale = value(Parameter::VibratoRate);
        vibrato.rate_shift_hz = rate_hz;
        vibrato.onset_s = onset_s * value(Parameter::Onset);
        vibrato.style_position = (style >= 0.0).then_some(style);
        vibrato.rate_spread = (self.said.rate_spread * imperfection).min(RATE_SPREAD_MAX);
        vibrato.width_spread = (self.said.width_spread * imperfection).min(WIDTH_SPREAD_MAX);
        vibrato.arch = (self.said.arch * imperfection).min(ARCH_MAX);
        patch.tail.tail_s = tail_s * value(Parameter::Tail) * tail;
        patch.seed = self.said.seed.wrapping_add(value(Parameter::Seed) as u64);
    }
}

impl Said {
    fn of(patch: &Patch) -> Said {
        Said {
            weight: patch.hand.weight,
            floor: patch.dynamics.floor,
            ceiling: patch.dynamics.ceiling,
            onset_s: patch.vibrato.onset_s,
            tail_s: patch.tail.tail_s,
            rate_spread: patch.vibrato.rate_spread,
            width_spread: patch.vibrato.width_spread,
            seed: patch.seed,
            arch: patch.vibrato.arch,
        }
    }
}
