//! A bare stage for the musical cases: the wheel is the gesture itself, and nothing is in the way.
#![allow(dead_code, reason = "each test file uses its own part of the stage")]

use polso_engine::View;
use polso_engine::patch::{OutputPatch, Patch, Response, TransitionPatch};
use polso_engine::{Input, Layer, Message, Origin};

use super::rehearsal::{RATE_HZ, Score, Sent, patch};

/// A shipped instrument and target under a hand without dead zones: a value of the automated
/// gesture is the gesture, at once while nothing sounds. No body swings with the vibrato, so that a
/// level under a hand that stands does too.
pub fn bare(instrument: &str, target: &str) -> Patch {
    let mut patch = still_body(patch(instrument, target));
    // A channel that carries a message every millisecond.
    patch.target.messages_per_s = 10_000.0;
    patch.hand.low = 0.0;
    patch.hand.high = 1.0;
    patch.hand.dead_zone_rest = 0.0;
    patch.hand.dead_zone_full = 0.0;
    patch.hand.rest = 0.0;
    patch.hand.response = Response::Exponential(0.0);
    patch
}

/// The same without the swing of level and brightness.
pub fn still_body(mut patch: Patch) -> Patch {
    patch.vibrato.styles.iter_mut().for_each(|style| style.level_swing_db = 0.0);
    patch.vibrato.brightness_swing = 0.0;
    patch
}

/// A violin on a bend wheel whose register neither widens nor narrows anything.
pub fn even_violin() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.vibrato.register_per_semitone = 0.0;
    patch
}

/// The patch whose pitch jumps from note to note: the bend is the vibrato's and the player's alone.
pub fn jumping(mut patch: Patch) -> Patch {
    patch.target.transition = TransitionPatch::NONE;
    patch
}

/// The patch with one more output.
pub fn with(mut patch: Patch, output: OutputPatch) -> Patch {
    patch.target.outputs[patch.target.output_count] = output;
    patch.target.output_count += 1;
    patch
}

/// The patch with this output alone.
pub fn only(mut patch: Patch, output: OutputPatch) -> Patch {
    patch.target.output_count = 0;
    patch.target.transition = TransitionPatch::NONE;
    with(patch, output)
}

/// A note for each key, each beginning `step_s` after the last and lasting `length_s`: slurred
/// where `length_s` is the longer.
pub fn run(mut score: Score, start_s: f64, step_s: f64, length_s: f64, keys: &[u8]) -> Score {
    for (place, &key) in keys.iter().enumerate() {
        let on_s = start_s + step_s * place as f64;
        score = score.note(on_s, on_s + length_s, key);
    }
    score
}

/// A note-on of any velocity.
pub fn strike(key: u8, velocity: u8) -> Message {
    Message::NoteOn { channel: 0, key, velocity }
}

/// A controller of channel 1.
pub fn controller(number: u8, value: u8) -> Message {
    Message::Controller { channel: 0, number, value }
}

/// The bend wheel of channel 1.
pub fn bend(value: u16) -> Message {
    Message::PitchBend { channel: 0, value }
}

/// The transport runs from `beat` on, 120 quarters a minute.
pub fn song(beat: f64) -> Input {
    Input::Song { beat, tempo_bpm: 120.0, running: true }
}

/// The view at the tick of a time.
pub fn at(views: &[View], seconds: f64) -> &View {
    &views[(seconds * 1000.0).round() as usize]
}

/// When a message went out, seconds.
pub fn time_s(sent: &Sent) -> f64 {
    sent.frame as f64 / RATE_HZ
}

/// What one controller of channel 1 said, with its seconds.
pub fn said(sent: &[Sent], wanted: u8) -> Vec<(f64, u8)> {
    let says = |sent: &Sent| match sent.message {
        Message::Controller { channel: 0, number, value } if number == wanted => {
            Some((time_s(sent), value))
        }
        _ => None,
    };
    sent.iter().filter_map(says).collect()
}

/// What the bend wheel of channel 1 said, with its seconds.
pub fn bends(sent: &[Sent]) -> Vec<(f64, u16)> {
    let says = |sent: &Sent| match sent.message {
        Message::PitchBend { channel: 0, value } => Some((time_s(sent), value)),
        _ => None,
    };
    sent.iter().filter_map(says).collect()
}

/// The last value said at or before a time.
pub fn value_at<T: Copy>(said: &[(f64, T)], seconds: f64) -> Option<T> {
    said.iter().rev().find(|(at_s, _)| *at_s <= seconds + 1e-9).map(|(_, value)| *value)
}

/// Notes in short words with their milliseconds: `on 60 64 @ 0`, `off 60 @ 500`, and the keys
/// of mode and articulation as `switch 24 @ 500`, `unswitch 24 @ 510`.
pub fn words(sent: &[Sent]) -> Vec<String> {
    let word = |sent: &Sent| {
        let is_switch = matches!(sent.origin, Origin::Layer(Layer::Legato | Layer::Articulation));
        let what = match sent.message {
            Message::NoteOn { key, .. } if is_switch => format!("switch {key}"),
            Message::NoteOff { key, .. } if is_switch => format!("unswitch {key}"),
            Message::NoteOn { key, velocity, .. } => format!("on {key} {velocity}"),
            Message::NoteOff { key, .. } => format!("off {key}"),
            Message::Controller { number, value, .. } => format!("cc {number} {value}"),
            Message::Program { program, .. } => format!("program {program}"),
            Message::PitchBend { value, .. } => format!("bend {value}"),
            Message::ChannelPressure { value, .. } => format!("pressure {value}"),
            Message::PolyPressure { key, value, .. } => format!("pressure {key} {value}"),
        };
        format!("{what} @ {}", (time_s(sent) * 1000.0).round())
    };
    sent.iter().map(word).collect()
}
