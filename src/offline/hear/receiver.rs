//! The receiver that the engine plays to when a take is heard: a bend as wide as any join.

use crate::engine::patch::Patch;
use crate::offline::Settings;

/// The target that it starts from: performed vibrato, joins by bend, levels by GM2's law.
pub const TARGET: &str = "perform-12";
/// Wider than any leap on one string, semitones.
const BEND_SEMITONES: f64 = 96.0;
/// Nothing waits for a wire.
const MESSAGES_PER_S: f64 = 1e6;

/// The settings with the receiver's bend as wide as a voice's, which bends as far as it is told. They
/// are for [`TARGET`].
pub fn heard_by_voice(settings: &Settings) -> Settings {
    let mut settings = settings.clone();
    let Patch { target, .. } = &mut settings.patch;
    target.bend_range_semitones = BEND_SEMITONES;
    target.sends_bend_range = false;
    target.messages_per_s = MESSAGES_PER_S;
    target.burst_messages = MESSAGES_PER_S;
    settings
}
