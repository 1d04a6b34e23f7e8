//! The settings of one section: which hand plays it, which instrument it is, which receiver hears it.
//!
//! Plain numbers, no pointers, times in seconds. `profile` makes a [`Patch`] from the three files
//! and answers for its ranges; the engine copies it at `load` and never doubts it.

mod hand;
mod instrument;
pub(crate) mod retouch;
mod switch;
mod target;
mod transition;
mod voices;

mod whole;

pub(crate) mod controls;
pub(crate) mod setup;

pub use hand::{HandPatch, Response, Source};
pub use instrument::{
    DynamicsPatch, FirstMovement, LegatoPatch, NotesPatch, OpenPolicy, STRINGS_MAX, STYLES_MAX,
    StringPatch, StringsPatch, StyleLaw, StylePatch, TailPatch, VibratoPatch,
};
pub use retouch::{Change, RETOUCHES_MAX, Retouch, RetouchPatch};
pub use switch::{ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, LEGATO, ModePatch, PLUCKED};
pub use target::{
    Address, JoinedVelocity, OUTPUTS_MAX, OutputPatch, Reading, SlidePatch, TargetPatch,
};
pub use transition::{PORTAMENTO_POINTS_MAX, PortamentoPatch, TransitionPatch, TransitionWay};
pub use voices::{LeadingVoice, VOICES_MAX, VoiceKind, VoicesPatch};
pub use whole::{PATCH_BYTES_MAX, Patch};
