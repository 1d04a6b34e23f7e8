//! What a line is doing, in numbers, for those who look.

use crate::layer::Layer;
use crate::mode::Mode;
use crate::patch::STYLES_MAX;
use crate::phrase::Phrase;
use crate::reason::Reason;

/// The engine's present values, for those who look: `trace`, the editor, the tests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Seconds since the ticks were last anchored, at the last tick.
    pub time_s: f64,
    /// The key that owns the line.
    pub key: Option<u8>,
    /// The controller's last value, share of its whole range; `None` until it moves.
    pub raw: Option<f64>,
    /// The gesture, 0..=1.
    pub gesture: f64,
    /// The level, 0..=1, without the swing of a vibrato.
    pub dynamics: f64,
    /// The expression's amplitude, 0..=1, without the swing of a vibrato.
    pub expression: f64,
    /// Vibrato width as performed, with its unevenness, cents peak to peak.
    pub width_cents: f64,
    /// Vibrato rate as performed, with its unevenness, Hz.
    pub rate_hz: f64,
    /// The performed vibrato's present distance from the note, cents, without the player's bend.
    pub pitch_cents: f64,
    /// The weights of the styles; they sum to 1.
    pub weights: [f64; STYLES_MAX],
    /// How the present note joined.
    pub mode: Mode,
    /// The articulation that the receiver plays, by its place in the common list; `None` if it
    /// is told none.
    pub articulation: Option<u8>,
    /// Where the phrase stands.
    pub phrase: Phrase,
    /// The ambience lift, 0..=1 of the send's range.
    pub send: f64,
    /// Why there is vibrato, or none.
    pub vibrato_reason: Reason,
    /// Why this legato mode.
    pub legato_reason: Reason,
    /// Why the last note-off waited, or did not.
    pub tail_reason: Reason,
    /// Why a wish for the present note cannot be had; a refused slide is told by `legato_reason`.
    pub refused_wish: Option<Reason>,
    /// Why the level is not as loud or as soft as a stretch asks for ([`Reason::LoudestAlready`],
    /// [`Reason::SoftestAlready`]).
    pub limited: Option<Reason>,
    /// An output that stands still, since it came back as an echo ([`Reason::OutputFrozen`]).
    pub frozen: Option<Layer>,
    /// Why nothing is heard of the note that sounds ([`Reason::Niente`]).
    pub silence: Option<Reason>,
    /// How far the pitch still is from its note on the way from the one before, cents, beside the
    /// vibrato.
    pub transition_cents: f64,
    /// How the pitch of the present note got there.
    pub transition_reason: Reason,
    /// Dynamics, expression and the swing of a vibrato together, decibels under full, −120 or above.
    pub level_db: f64,
    /// How bright, 0..=1, with the swing of a vibrato.
    pub brightness: f64,
    /// Which line of the section it is, from 0.
    pub voice: u8,
    /// The player's own bend, −1..=1 of the bend range.
    pub player_bend: f64,
}

impl View {
    /// How far the sounding pitch is from its note, cents: the way from the note before, and the
    /// vibrato, without the player's bend.
    pub fn heard_cents(&self) -> f64 {
        self.transition_cents + self.pitch_cents
    }

    /// A note sounds, or anything but the clock is not what it was.
    pub fn moves_after(&self, before: &View) -> bool {
        self.key.is_some() || View { time_s: before.time_s, ..*self } != *before
    }
}

/// What the engine could not do, counted since the last `reset`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Losses {
    /// Messages that the sink had no room for.
    pub dropped_messages: u64,
    /// Numbers that were due and had to wait because the channel was busy.
    pub late_values: u64,
    /// Messages that were passed over since no wire can carry them: a key, channel or value beyond
    /// its range.
    pub refused_messages: u64,
    /// Notes that were ended early because more sounded at once than the engine keeps.
    pub stolen_notes: u64,
}
