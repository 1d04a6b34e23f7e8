//! The settings of one line: which hand plays it, which instrument it is, which receiver hears it.
//!
//! Plain numbers, no pointers, times in seconds. `profile` makes a [`Patch`] from the three files
//! and answers for its ranges; the engine copies it at `load` and never doubts it.

use super::curve::Curve;
use super::event::Layer;

pub use super::choice::{ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, LEGATO, ModePatch};

/// The most vibrato styles of one instrument.
pub const STYLES_MAX: usize = 4;
/// The most strings of one instrument.
pub const STRINGS_MAX: usize = 8;
/// The most outputs of one target.
pub const OUTPUTS_MAX: usize = 16;
/// The most bytes of a [`Patch`].
pub const PATCH_BYTES_MAX: usize = 20 * 1024;
const _: () = assert!(size_of::<Patch>() <= PATCH_BYTES_MAX); // copied on the audio thread

/// Everything the engine needs to perform one line.
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
    /// Channel of the outputs until the first note brings its own, 0..=15.
    pub home_channel: u8,
}

/// Where the gesture comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Controller 0–119, seven bits.
    Controller(u8),
    /// Controller n (0–31) with its fine half n + 32, fourteen bits.
    ControllerPair(u8),
    /// Channel pressure (on any channel, so an MPE member's too).
    ChannelPressure,
    /// Poly pressure of the newest held note.
    PolyPressure,
    /// The bend wheel: 0 lowest, 0.5 centre, 1 highest.
    PitchBend,
    /// Only the automated parameter of the plugin.
    Parameter,
    /// Controller 74 on the channel of the newest held note (MPE timbre).
    MpeTimbre,
    /// Channel pressure on the channel of the newest held note (MPE pressure).
    MpePressure,
}

/// How the conditioned travel becomes the gesture.
// A patch holds no pointers, so the large one is not boxed.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "there is no heap to box it on")]
pub enum Response {
    /// A monotone cubic from 0..=1 to 0..=1.
    Points(Curve),
    /// (e^{kx} − 1)/(e^k − 1), k in −6..=6; 0 is linear.
    Exponential(f64),
}

/// The player's own controller (DESIGN 4.1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandPatch {
    /// Where the gesture comes from.
    pub source: Source,
    /// The source reaches the receiver too, instead of being consumed.
    pub source_passes: bool,
    /// The player blows: accents come from the breath, and a breath gap is articulation.
    pub is_breath: bool,
    /// Raw value that counts as 0, share of the source's whole range.
    pub low: f64,
    /// Raw value that counts as 1; above `low`.
    pub high: f64,
    /// The controller is turned round: raw `low` is full.
    pub is_inverted: bool,
    /// Share of the travel that still counts as rest, 0..=0.4.
    pub dead_zone_rest: f64,
    /// Share of the travel that already counts as full, 0..=0.4.
    pub dead_zone_full: f64,
    /// The gesture while the controller has never moved, 0..=1.
    pub rest: f64,
    /// The shape of the response.
    pub response: Response,
    /// Heaviness of the bow arm: scales the smoothing times, 0.5..=3.
    pub weight: f64,
    /// The keys that choose the articulations and never sound.
    pub articulation_keys: [Option<u8>; ARTICULATIONS_MAX],
}

impl HandPatch {
    /// The articulation that a key chooses.
    pub fn articulation_of(&self, key: u8) -> Option<u8> {
        let is_own = |own: &Option<u8>| *own == Some(key);
        self.articulation_keys.iter().position(is_own).map(|place| place as u8)
    }
}

/// How loud (DESIGN 4.6).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DynamicsPatch {
    /// Level at gesture 0, 0..=1.
    pub floor: f64,
    /// Level at gesture 1, 0..=1, not below `floor`.
    pub ceiling: f64,
    /// Share of floor to ceiling over the gesture, 0..=1.
    pub curve: Curve,
    /// What a fresh note of velocity 127 adds to the level, 0..=1; 0 for breath.
    pub accent: f64,
    /// Decibels that the level 0..=1 stands for.
    pub span_db: f64,
    /// Share of a fresh note's velocity that follows the level, 0..=1.
    pub velocity_share: f64,
}

/// One kind of vibrato.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StylePatch {
    /// Width over the gesture, cents peak to peak.
    pub width_cents: Curve,
    /// Rate over the gesture, Hz.
    pub rate_hz: Curve,
    /// Share of the width above the pitch, 0..=1.
    pub share_above: f64,
    /// 1 is a sine; up to 2 the pitch stays longer near where it started.
    pub sharpness: f64,
    /// Loudness swing with the vibrato, decibels peak to peak.
    pub level_swing_db: f64,
}

/// Which way the first swing of a vibrato goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FirstMovement {
    /// Above the pitch first.
    Up,
    /// Below the pitch first (violin and cello).
    Down,
}

/// How the pitch swings (DESIGN 4.3, 4.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VibratoPatch {
    /// The styles in the order in which a rising gesture meets them.
    pub styles: [StylePatch; STYLES_MAX],
    /// How many of `styles` count, 1..=4.
    pub style_count: usize,
    /// Gesture where the crossfade to style n + 1 begins and ends; n from 0, rising.
    pub edges: [(f64, f64); STYLES_MAX - 1],
    /// How the weights reach a receiver that has styles of its own.
    pub style_law: StyleLaw,
    /// Exponent that hurries through the middle of a crossfade, for sampled soloists; 1 is off.
    pub quick_through: f64,
    /// The wait before a vibrato starts at a middling pace, seconds.
    pub onset_s: f64,
    /// From its start to its full width, seconds.
    pub growth_s: f64,
    /// What is left of the width in the middle of a slur, 0..=1.
    pub join_keep: f64,
    /// From there back to the whole, seconds.
    pub join_recover_s: f64,
    /// Growth of the width per semitone of stopped height.
    pub register_per_semitone: f64,
    /// Which way the first swing goes.
    pub first_movement: FirstMovement,
    /// Share of a one-sided style's mean that is taken off, 0..=1.
    pub centre: f64,
    /// Spread (SD) of the rate from cycle to cycle, share, 0..=0.16.
    pub rate_spread: f64,
    /// Spread (SD) of the width from cycle to cycle, share, 0..=0.20.
    pub width_spread: f64,
    /// Factor of every style's width, 0..=2.
    pub width_scale: f64,
    /// Factor of every style's rate, 0.5..=2.
    pub rate_scale: f64,
    /// Position on the ordered list of styles, 0..=1, instead of where the gesture points.
    pub style_position: Option<f64>,
}

/// How style weights reach a receiver that has styles of its own (DESIGN 4.4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StyleLaw {
    /// Weights as they are: they sum to 1.
    EqualGain,
    /// The root of each weight: their squares sum to 1.
    EqualPower,
    /// Each note keeps the heaviest style that its note-on found.
    Latched,
}

/// How one note joins the next (DESIGN 4.5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LegatoPatch {
    /// Edges between quick, joined, slow and slide, rising.
    pub edges: [f64; 3],
    /// Half width of the zone about an edge in which the last mode stands.
    pub hysteresis: f64,
    /// How long every note-off waits for a join, seconds, 0..=0.03.
    pub join_gap_s: f64,
    /// The widest slide, semitones.
    pub slide_max_semitones: u8,
    /// The longest time a hand takes for a slide, seconds.
    pub slide_s: f64,
}

/// What an open string does while nobody stops it (DESIGN 4.3).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenPolicy {
    /// The pitch is played stopped on the string below, with vibrato.
    Stopped,
    /// The pitch is played open, without vibrato.
    Open,
    /// Open in fast passages, stopped otherwise.
    Auto,
}

/// One string.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StringPatch {
    /// MIDI key of the open string.
    pub open_key: u8,
    /// Highest stopped note above it, semitones.
    pub span_semitones: u8,
    /// Sounding length, metres.
    pub length_m: f64,
}

/// The strings, lowest first; none for a wind instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StringsPatch {
    /// The strings.
    pub strings: [StringPatch; STRINGS_MAX],
    /// How many of `strings` count.
    pub count: usize,
    /// Bit n is set if key n can only be played on an open string.
    pub forced_open_keys: u128,
    /// What happens at the other open pitches.
    pub policy: OpenPolicy,
}

/// How the phrase ends (DESIGN 4.7).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TailPatch {
    /// The longest wait of the last note-off, seconds.
    pub tail_s: f64,
    /// How far the expression falls meanwhile, decibels.
    pub tail_db: f64,
    /// How far the ambience send rises, share of its range (steps of 127 divided by 127).
    pub lift: f64,
}

/// How a receiver reads an output (DESIGN 4.6, 5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// Evenly from low to high; for a level, the position on the receiver's dynamic layers.
    Straight,
    /// From the share of low..high (0..=1) to the share of min..max (0..=1). Not for levels.
    Response(Curve),
    /// Levels only: 40·log10(value/127) dB, as GM2 3.3.4 has it.
    Gm2,
    /// Levels only: from decibels (x, −span..=0) to the share of min..max (y), as measured.
    Table(Curve),
}

/// Where an output's messages go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Address {
    /// A seven-bit controller, 0–119.
    Controller(u8),
    /// Controller n (0–31) with its fine half n + 32.
    ControllerPair(u8),
    /// Pressure on the channel.
    ChannelPressure,
    /// Pressure on the owner's key.
    PolyPressure,
    /// The bend wheel; `Layer::Pitch` in cents over the target's bend range.
    PitchBend,
    /// A registered parameter 0..=16383, fourteen bits, nulled after.
    Registered(u16),
    /// A non-registered parameter 0..=16383, fourteen bits, nulled after.
    NonRegistered(u16),
    /// A program change, its number the value.
    Program,
    /// The velocity of each note-on.
    Velocity,
}

impl Address {
    /// The highest raw value the address takes: 127 or 16383.
    pub const fn raw_max(self) -> u16 {
        match self {
            Address::ControllerPair(_)
            | Address::PitchBend
            | Address::Registered(_)
            | Address::NonRegistered(_) => super::event::FINE_MAX,
            _ => 127,
        }
    }
}

/// One output: what drives it, where it goes and how its values read there (DESIGN 5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutputPatch {
    /// What drives it. Not `Legato` (see [`ModePatch`]), `Articulation` (see
    /// [`ArticulationPatch`]) nor `Slide` (see [`SlidePatch`]).
    pub layer: Layer,
    /// Where it goes.
    pub address: Address,
    /// Raw value for `low`.
    pub min: u16,
    /// Raw value for `high`; not below `min`.
    pub max: u16,
    /// `low` goes to `max` and `high` to `min`.
    pub is_inverted: bool,
    /// The layer's value, in its own unit, that stands at the low end.
    pub low: f64,
    /// The layer's value, in its own unit, that stands at the high end; above `low`.
    pub high: f64,
    /// How the receiver reads it.
    pub reading: Reading,
    /// Raw value at rest, sent at a panic; where the send starts from.
    pub rest: u16,
    /// The shortest time from one message to the next, seconds.
    pub interval_s: f64,
    /// How far a sent number may be from the true one before a new one is sent, steps of the
    /// number; half a step or less sends every change.
    pub error_bound: f64,
    /// Who waits when the cable is busy: 0 goes first.
    pub priority: u8,
}

/// How the receiver is told to slide (MIDI 1.0: portamento time, switch and control).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlidePatch {
    /// Controller 5 while sliding, 0..=127.
    pub time: u8,
    /// Also say with controller 84 which key the slide starts from.
    pub says_source_key: bool,
}

/// Where the receiver listens (DESIGN 5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TargetPatch {
    /// The outputs.
    pub outputs: [OutputPatch; OUTPUTS_MAX],
    /// How many of `outputs` count.
    pub output_count: usize,
    /// The receiver's bend range, semitones either way, 1..=96.
    pub bend_range_semitones: f64,
    /// Tell the receiver its bend range by RPN 0 at each resync.
    pub sends_bend_range: bool,
    /// Messages a second that the channel carries, and how many at once, above 0.
    pub messages_per_s: f64,
    /// See `messages_per_s`.
    pub burst_messages: f64,
    /// How the legato mode is told.
    pub mode: ModePatch,
    /// How the articulation is told.
    pub articulation: ArticulationPatch,
    /// How a slide is told, if it is.
    pub slide: Option<SlidePatch>,
    /// Velocities of joined notes at a slow and at a fast pace, for receivers that read the
    /// speed of a join from them.
    pub speed_velocity: Option<(u8, u8)>,
}
