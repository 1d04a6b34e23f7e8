//! The test of one output: a long quiet note sounds, and only that output is swept from end to end.

use super::feed::Order;
use crate::engine::patch::{
    ARTICULATIONS_MAX, Address, ChoicePatch, JoinedVelocity, ModePatch, OutputPatch, Patch,
    Reading, Response, Source, TransitionPatch,
};
use crate::engine::{Input, Layer, Message};

/// How long the sweep takes from low to high, and back again, seconds.
pub const SWEEP_S: f64 = 3.0;
/// How long it stays at the high end, seconds.
pub const HOLD_S: f64 = 0.4;
/// The note's velocity, 1..=127: quiet, so that nobody is startled.
pub const VELOCITY: u8 = 24;

/// The level of what is not tested, 0..=1.
const LEVEL: f64 = 0.35;
/// Where the gesture of a sweep begins: just above the end in which a note comes from nothing.
const LOW: f64 = 0.06;

/// A test that is under way.
#[derive(Clone, Debug)]
pub struct OutputTest {
    /// The dotted name of the output.
    pub path: String,
    key: u8,
    channel: u8,
    elapsed_s: f64,
}

impl OutputTest {
    /// Begins a test of `output`, which is called `path`, on `key`: the test, and the orders that
    /// begin it. `patch` is what plays otherwise.
    pub fn begin(
        path: &str,
        output: &OutputPatch,
        patch: &Patch,
        key: u8,
    ) -> (OutputTest, Vec<Order>) {
        let channel = patch.home_channel;
        let test = OutputTest { path: path.to_owned(), key, channel, elapsed_s: 0.0 };
        let orders = vec![
            Order::Try(Box::new(only(output, patch))),
            Order::Input(Input::Gesture(LOW)),
            Order::Input(Input::Live(Message::NoteOn { channel, key, velocity: VELOCITY })),
        ];
        (test, orders)
    }

    /// `elapsed_s` seconds have gone by: the order that is due now; `None` once the test is over.
    pub fn pass(&mut self, elapsed_s: f64) -> Option<Order> {
        self.elapsed_s += elapsed_s;
        let gesture = LOW + (1.0 - LOW) * self.share();
        let is_over = self.elapsed_s >= 2.0 * SWEEP_S + HOLD_S;
        (!is_over).then_some(Order::Input(Input::Gesture(gesture)))
    }

    /// Where the sweep stands between low and high, 0..=1.
    pub fn share(&self) -> f64 {
        let back_s = self.elapsed_s - SWEEP_S - HOLD_S;
        (self.elapsed_s / SWEEP_S).min(1.0 - back_s / SWEEP_S).clamp(0.0, 1.0)
    }

    /// The orders that end it.
    pub fn end(&self) -> Vec<Order> {
        let (channel, key) = (self.channel, self.key);
        vec![
            Order::Input(Input::Gesture(0.0)),
            Order::Input(Input::Live(Message::NoteOff { channel, key, velocity: 64 })),
        ]
    }
}

/// Whether an output can be swept while a note sounds; a velocity goes out with the note alone.
pub fn can_be_swept(output: &OutputPatch) -> bool {
    output.address != Address::Velocity
}

/// A patch in which the sweep reaches this output alone, evenly from its low to its high end. The
/// levels that are not tested stand still, and low: what had been left open would be loud.
fn only(output: &OutputPatch, patch: &Patch) -> Patch {
    let mut only = *patch;
    only.hand.source = Source::Parameter;
    only.hand.source_passes = false;
    only.hand.is_breath = false;
    (only.hand.low, only.hand.high, only.hand.is_inverted) = (0.0, 1.0, false);
    (only.hand.dead_zone_rest, only.hand.dead_zone_full) = (0.0, 0.0);
    only.hand.response = Response::Exponential(0.0);
    only.hand.articulation_keys = [None; ARTICULATIONS_MAX];
    (only.dynamics.floor, only.dynamics.ceiling) = (LEVEL, LEVEL);
    (only.dynamics.accent, only.dynamics.velocity_share) = (0.0, 0.0);
    // The sweep's low end is no silence.
    only.dynamics.niente = false;
    only.tail.tail_s = 0.0;
    for style in &mut only.vibrato.styles {
        // A breath vibrato would move the level.
        style.level_swing_db = 0.0;
    }
    let mut target = only.target;
    target.outputs[0] = OutputPatch {
        layer: Layer::Gesture,
        low: LOW,
        high: 1.0,
        reading: Reading::Straight,
        ..*output
    };
    target.output_count = 1;
    for other in &patch.target.outputs[..patch.target.output_count] {
        let is_level = matches!(other.layer, Layer::Dynamics | Layer::Expression);
        if is_level && other.address != output.address {
            target.outputs[target.output_count] = *other;
            target.output_count += 1;
        }
    }
    target.mode = ModePatch::Silent;
    target.articulation.choice = ChoicePatch::Silent;
    target.slide = None;
    target.joined_velocity = JoinedVelocity::Played;
    target.transition = TransitionPatch::NONE;
    only.target = target;
    only
}
