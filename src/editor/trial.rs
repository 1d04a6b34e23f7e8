//! Tries one output: a long quiet note sounds, and only that output is swept from end to end.

use super::feed::Order;
use crate::engine::event::{Input, Layer, Message};
use crate::engine::patch::{
    Address, ModePatch, OutputPatch, Patch, Reading, Response, Source, TargetPatch,
};

/// From low to high, seconds; then back.
pub const SWEEP_S: f64 = 3.0;
/// How long it stays at the high end, seconds.
pub const HOLD_S: f64 = 0.4;
/// Quiet, so that nobody is startled.
pub const VELOCITY: u8 = 24;

/// A trial in progress.
#[derive(Clone, Debug)]
pub struct Trial {
    /// The dotted name of the output.
    pub path: String,
    key: u8,
    channel: u8,
    elapsed_s: f64,
}

impl Trial {
    /// Begins a trial of `output` on `key`: the trial itself, and what is to be done for it.
    pub fn begin(path: &str, output: &OutputPatch, patch: &Patch, key: u8) -> (Trial, Vec<Order>) {
        let channel = patch.home_channel;
        let trial = Trial { path: path.to_owned(), key, channel, elapsed_s: 0.0 };
        let orders = vec![
            Order::Try(Box::new(only(output, patch))),
            Order::Input(Input::Gesture(0.0)),
            Order::Input(Input::Live(Message::NoteOn { channel, key, velocity: VELOCITY })),
        ];
        (trial, orders)
    }

    /// Time goes by: what is to be done, and whether the trial is over.
    pub fn pass(&mut self, elapsed_s: f64) -> (Vec<Order>, bool) {
        self.elapsed_s += elapsed_s;
        if self.elapsed_s >= 2.0 * SWEEP_S + HOLD_S {
            return (self.end(), true);
        }
        (vec![Order::Input(Input::Gesture(self.share()))], false)
    }

    /// How far the sweep has come, 0..=1 and back.
    pub fn share(&self) -> f64 {
        let back_s = self.elapsed_s - SWEEP_S - HOLD_S;
        (self.elapsed_s / SWEEP_S).min(1.0 - back_s / SWEEP_S).clamp(0.0, 1.0)
    }

    /// What ends it.
    pub fn end(&self) -> Vec<Order> {
        let (channel, key) = (self.channel, self.key);
        vec![
            Order::Input(Input::Gesture(0.0)),
            Order::Input(Input::Live(Message::NoteOff { channel, key, velocity: 64 })),
        ]
    }
}

/// Whether an output can be swept while a note sounds.
pub fn can_be_swept(output: &OutputPatch) -> bool {
    output.address != Address::Velocity
}

/// A patch in which the sweep reaches this output alone, evenly from its low to its high end.
fn only(output: &OutputPatch, patch: &Patch) -> Patch {
    let mut only = *patch;
    only.hand.source = Source::Parameter;
    only.hand.source_passes = false;
    only.hand.is_breath = false;
    (only.hand.low, only.hand.high, only.hand.is_inverted) = (0.0, 1.0, false);
    (only.hand.dead_zone_rest, only.hand.dead_zone_full) = (0.0, 0.0);
    only.hand.response = Response::Exponential(0.0);
    only.dynamics.velocity_share = 0.0;
    only.tail.tail_s = 0.0;
    let mut target = TargetPatch { output_count: 1, ..only.target };
    target.outputs[0] = OutputPatch {
        layer: Layer::Gesture,
        low: 0.0,
        high: 1.0,
        reading: Reading::Straight,
        ..*output
    };
    target.mode = ModePatch::Silent;
    target.slide = None;
    target.speed_velocity = None;
    only.target = target;
    only
}
