//! One gesture and the notes go in; everything a player's hands and breath would do comes out.
//!
//! This folder knows only `core` and `libm`: no heap, files, clock, host or framework. It is
//! included by path into a `no_std` probe, so inside it paths start with `super::`.

// In the order of the data path.
pub mod curve;
pub mod event;
pub mod patch;
pub mod reason;

use event::{Sink, Timed};
use patch::{Patch, STYLES_MAX};
use reason::Reason;

/// The revision of the engine's sound. A change that alters output gets a new number.
pub const REVISION: u32 = 1;

/// How the present note joined the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Mode {
    /// It did not join.
    Fresh,
    /// As fast as the fingers go.
    Quick,
    /// An ordinary join.
    Joined,
    /// A drawn-out join.
    Slow,
    /// The finger slides.
    Slide,
}

impl Mode {
    /// The modes in the order of [`patch::ModePatch`].
    pub const ALL: [Mode; 5] = [Mode::Fresh, Mode::Quick, Mode::Joined, Mode::Slow, Mode::Slide];

    /// The trade's word.
    pub const fn name(self) -> &'static str {
        match self {
            Mode::Fresh => "fresh",
            Mode::Quick => "quick",
            Mode::Joined => "joined",
            Mode::Slow => "slow",
            Mode::Slide => "slide",
        }
    }
}

/// Where the phrase stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Phrase {
    /// Nothing sounds.
    Rest,
    /// A key is held, or the pedal holds a note.
    Sounding,
    /// The last note is being drawn out.
    Tail,
}

impl Phrase {
    /// A stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Phrase::Rest => "rest",
            Phrase::Sounding => "sounding",
            Phrase::Tail => "tail",
        }
    }
}

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
    /// The level, 0..=1, without the breath vibrato's swing.
    pub dynamics: f64,
    /// The expression's amplitude, 0..=1.
    pub expression: f64,
    /// Vibrato width as performed, cents peak to peak.
    pub width_cents: f64,
    /// Vibrato rate, Hz.
    pub rate_hz: f64,
    /// The performed vibrato's present distance from the note, cents, without the player's bend.
    pub pitch_cents: f64,
    /// The weights of the styles; they sum to 1.
    pub weights: [f64; STYLES_MAX],
    /// How the present note joined.
    pub mode: Mode,
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
}

/// What the engine could not do, counted since the last `reset`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Losses {
    /// Messages that the sink had no room for.
    pub dropped_messages: u64,
    /// Notes that were ended early because more sounded at once than the engine keeps.
    pub stolen_notes: u64,
}

/// One line's player. It holds no pointer to the heap; every method is safe on the audio thread.
pub struct Engine {
    patch: Patch,
    sample_rate_hz: f64,
}

impl Engine {
    /// A ready engine at `sample_rate_hz` (8000..=768000), playing `patch`.
    pub fn prepare(sample_rate_hz: f64, patch: &Patch) -> Engine {
        Engine { patch: *patch, sample_rate_hz }
    }

    /// Takes other settings. What sounds is ended first thing in the next `process`, then all
    /// starts afresh and every output is sent again.
    pub fn load(&mut self, patch: &Patch) {
        self.patch = *patch;
    }

    /// Forgets everything played. Offs still owed are sent first thing in the next `process`.
    pub fn reset(&mut self) {
        let _ = self.sample_rate_hz;
    }

    /// Plays `frame_count` frames. `input` is in order of frames, all below `frame_count`.
    pub fn process(&mut self, frame_count: u32, input: &[Timed], sink: &mut impl Sink) {
        let _ = (frame_count, input, sink);
    }

    /// The present values.
    pub fn view(&self) -> View {
        todo!()
    }

    /// What could not be done.
    pub fn losses(&self) -> Losses {
        Losses::default()
    }
}
