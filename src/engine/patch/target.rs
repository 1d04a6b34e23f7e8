//! Which receiver hears it: where it listens and how it reads what comes there.

use super::switch::{ArticulationPatch, ModePatch};
use super::transition::TransitionPatch;
use crate::layer::Layer;
use crate::math::curve::Curve;

/// The most outputs of one target.
pub const OUTPUTS_MAX: usize = 16;

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
            | Address::NonRegistered(_) => crate::input::message::FINE_MAX,
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

/// What the velocity of a joined note says (DESIGN 4.6).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JoinedVelocity {
    /// What a fresh note's says: partly how hard it was struck, partly the level.
    Blended,
    /// How hard it was struck.
    Played,
    /// The speed of the join, for receivers that read it there.
    Speed {
        /// At a slow pace, 1..=127.
        slow: u8,
        /// At a fast pace, 1..=127.
        fast: u8,
    },
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
    /// What the velocity of a joined note says.
    pub joined_velocity: JoinedVelocity,
    /// How the pitch gets from note to note.
    pub transition: TransitionPatch,
}
