//! Which kind of vibrato: the gesture crosses from one style to the next, and the weights sum to 1.

use crate::math::glide::{lerp, smooth_step};
use crate::patch::{STYLES_MAX, StyleLaw, VibratoPatch};

/// The fastest that any weight moves.
const WEIGHT_PER_S_MAX: f64 = 4.0;

/// The weights of the styles.
pub type Weights = [f64; STYLES_MAX];

/// Crosses from style to style.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// The one style that a wish asks for, whatever else.
    wished: Option<u8>,
    aimed_at: f64,
    goal: Weights,
    weights: Weights,
    has_arrived: bool,
    moves: u32,
    latched: usize,
}

impl Style {
    /// The styles where the gesture stands at first.
    pub fn at(patch: &VibratoPatch, gesture: f64) -> Style {
        let mut style = Style {
            wished: None,
            aimed_at: gesture,
            goal: [0.0; STYLES_MAX],
            weights: [0.0; STYLES_MAX],
            has_arrived: true,
            moves: 0,
            latched: 0,
        };
        style.jump(patch, gesture);
        style
    }

    /// The position that the patch holds has been turned, or is the gesture's again.
    pub fn turn(&mut self, patch: &VibratoPatch) {
        self.goal = self.weights_at(patch, self.aimed_at);
        self.has_arrived = false;
    }

    /// The style of a wish, until the next note.
    pub fn wish(&mut self, patch: &VibratoPatch, style: Option<u8>) {
        let style = style.filter(|style| usize::from(*style) < patch.style_count);
        if style != self.wished {
            self.wished = style;
            self.goal = self.weights_at(patch, self.aimed_at);
            self.has_arrived = false;
            self.latched = heaviest(patch, &self.goal);
        }
    }

    /// Takes the weights of a gesture at once.
    pub fn jump(&mut self, patch: &VibratoPatch, gesture: f64) {
        self.aimed_at = gesture;
        self.goal = self.weights_at(patch, gesture);
        self.weights = self.goal;
        self.has_arrived = true;
        self.latch(patch);
    }

    /// One step of `step_s` on the way to where the gesture points: all weights along one straight
    /// line.
    #[inline(always)]
    pub fn step(&mut self, patch: &VibratoPatch, step_s: f64, gesture: f64) {
        if gesture == self.aimed_at && self.has_arrived {
            return;
        }
        if gesture != self.aimed_at {
            self.aimed_at = gesture;
            self.goal = self.weights_at(patch, gesture);
        }
        let mut furthest = 0.0_f64;
        for (goal, weight) in self.goal.iter().zip(&self.weights) {
            furthest = furthest.max((goal - weight).abs());
        }
        let step_max = WEIGHT_PER_S_MAX * step_s;
        self.has_arrived = furthest <= step_max;
        if self.has_arrived {
            self.weights = self.goal;
        } else {
            let share = step_max / furthest;
            for (weight, goal) in self.weights.iter_mut().zip(&self.goal) {
                *weight = lerp(*weight, *goal, share);
            }
        }
        if furthest > 0.0 {
            self.moves = self.moves.wrapping_add(1);
        }
    }

    /// Counts how often the weights have moved.
    pub fn moves(&self) -> u32 {
        self.moves
    }

    /// Another step would change nothing.
    pub fn is_settled(&self, gesture: f64) -> bool {
        gesture == self.aimed_at && self.has_arrived
    }

    /// The present weights.
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// A note begins: the latched law keeps the heaviest style.
    pub fn latch(&mut self, patch: &VibratoPatch) {
        self.latched = match self.wished {
            Some(style) => usize::from(style),
            None => heaviest(patch, &self.weights),
        };
    }

    /// The place on the ordered list of styles, 0..=1.
    pub fn position(&self, patch: &VibratoPatch) -> f64 {
        let last = patch.style_count.saturating_sub(1).max(1) as f64;
        let sum: f64 = (0..patch.style_count).map(|place| self.weights[place] * place as f64).sum();
        (sum / last).clamp(0.0, 1.0)
    }

    /// What position and weights are made of: while it stands, so do they.
    pub fn state(&self) -> [f64; 3] {
        let Style { weights, latched, .. } = self;
        // The weights sum to 1, so three of four say all.
        [weights[0], weights[1], weights[2] + 2.0 * *latched as f64]
    }

    /// The weight of one style for a receiver that has styles of its own.
    pub fn sent_weight(&self, patch: &VibratoPatch, place: usize) -> f64 {
        let hurried = |place: usize| libm::pow(self.weights[place], patch.quick_through);
        let weight = if patch.quick_through == 1.0 {
            self.weights[place]
        } else {
            hurried(place) / (0..patch.style_count).map(hurried).sum::<f64>()
        };
        match patch.style_law {
            StyleLaw::EqualGain => weight,
            StyleLaw::EqualPower => libm::sqrt(weight),
            StyleLaw::Latched => f64::from(u8::from(place == self.latched)),
        }
    }

    fn weights_at(&self, patch: &VibratoPatch, gesture: f64) -> Weights {
        let mut weights = [0.0; STYLES_MAX];
        if let Some(style) = self.wished {
            weights[usize::from(style)] = 1.0;
            return weights;
        }
        if let Some(position) = patch.style_position {
            let place = position * (patch.style_count - 1) as f64;
            for (style, weight) in weights.iter_mut().enumerate().take(patch.style_count) {
                *weight = (1.0 - (place - style as f64).abs()).max(0.0);
            }
            return weights;
        }
        let mut left = 1.0;
        let crossings = &patch.edges[..patch.style_count - 1];
        for (weight, (begin, end)) in weights.iter_mut().zip(crossings) {
            let crossed = smooth_step((gesture - begin) / (end - begin));
            *weight = left - crossed;
            left = crossed;
        }
        weights[patch.style_count - 1] = left;
        weights
    }
}

fn heaviest(patch: &VibratoPatch, weights: &Weights) -> usize {
    let heavier =
        |best: usize, place: usize| if weights[place] > weights[best] { place } else { best };
    (0..patch.style_count).fold(0, heavier)
}
