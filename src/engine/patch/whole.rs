//! The three files together: everything the engine needs to perform the lines of one section.

use super::hand::HandPatch;
use super::instrument::{
    DynamicsPatch, LegatoPatch, NotesPatch, StringsPatch, TailPatch, VibratoPatch,
};
use super::retouch::RetouchPatch;
use super::target::TargetPatch;
use super::voices::VoicesPatch;

/// The most bytes of a [`Patch`].
pub const PATCH_BYTES_MAX: usize = 24 * 1024;
const _: () = assert!(size_of::<Patch>() <= PATCH_BYTES_MAX); // copied on the audio thread

/// Everything the engine needs to perform the lines of one section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// The player's own controller.
    pub hand: HandPatch,
    /// How loud.
    pub dynamics: DynamicsPatch,
    /// How the pitch swings.
    pub vibrato: VibratoPatch,
    /// How one note joins the next.
    pub legato: LegatoPatch,
    /// The strings, if there are any.
    pub strings: StringsPatch,
    /// How the phrase ends.
    pub tail: TailPatch,
    /// Where the receiver listens.
    pub target: TargetPatch,
    /// Which of the possible performances this is.
    pub seed: u64,
    /// Channel of the outputs until the first note brings its own, 0..=15 (of a section with
    /// several lines the first one's; the others follow).
    pub home_channel: u8,
    /// Which notes the instrument has.
    pub notes: NotesPatch,
    /// What is asked of stretches of the song, whatever the gesture says.
    pub retouches: RetouchPatch,
    /// How many lines the notes of one channel are shared out to.
    pub voices: VoicesPatch,
}
