//! The lines of a take through somebody's SoundFont, told what such a receiver honours.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use thiserror::Error;

use super::line_player::LinePlayer;
use crate::engine::{Message, Origin, Sink};
use crate::profile::Instrument;
use crate::profile::instrument::Family;

/// The most lines: channel 10 is for drums (General MIDI).
pub const LINES_MAX: usize = 15;
/// Where General MIDI keeps its drums, from 0.
const DRUMS: i32 = 9;
/// A line that is left out rings on for at most so long, milliseconds.
const RING_MS: u32 = 4_000;
/// General MIDI programs, from 0, of the shipped instruments.
const PROGRAMS: [(&str, u8); 13] = [
    ("violin", 40),
    ("viola", 41),
    ("cello", 42),
    ("double-bass", 43),
    ("morin-khuur", 42),
    ("morin-khuur-high", 42),
    ("flute", 73),
    ("xiao", 77),
    ("hulusi", 71),
    ("suona-d", 68),
    ("oboe", 68),
    ("clarinet", 71),
    ("trumpet", 56),
];

/// Why a SoundFont cannot be used.
#[derive(Debug, Error)]
pub enum SoundFontError {
    /// The system refused.
    #[error("{}: {source}", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// It is none, or has faults.
    #[error("{}: is no SoundFont 2 that can be read: {what}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// It cannot be played at this rate.
    #[error("the SoundFont cannot be played: {what}")]
    Refused {
        /// What is wrong.
        what: String,
    },
    /// More lines than a receiver has channels.
    #[error(
        "the take has {count} lines; a SoundFont takes at most {LINES_MAX}, so choose with --track"
    )]
    Lines {
        /// How many.
        count: usize,
    },
}

/// Reads a SoundFont.
///
/// # Errors
/// [`SoundFontError::System`], [`SoundFontError::Unreadable`].
pub fn read(path: &Path) -> Result<Arc<SoundFont>, SoundFontError> {
    let system = |source| SoundFontError::System { path: path.to_owned(), source };
    let file = File::open(path).map_err(system)?;
    let font = SoundFont::new(&mut BufReader::new(file));
    let unreadable = |error: rustysynth::SoundFontError| SoundFontError::Unreadable {
        path: path.to_owned(),
        what: error.to_string(),
    };
    font.map(Arc::new).map_err(unreadable)
}

/// The General MIDI program of an instrument, from 0: its own, or a fiddle's or a flute's.
pub fn program(instrument: &Instrument) -> u8 {
    let own = PROGRAMS.iter().find(|(id, _)| *id == instrument.about.id);
    own.map_or(if instrument.family == Family::Bowed { 110 } else { 73 }, |(_, program)| *program)
}

/// The lines and the receiver that they play to.
pub struct SoundFontBand {
    lines: Vec<LinePlayer>,
    synthesizer: Synthesizer,
    left: Vec<f32>,
    right: Vec<f32>,
    /// Milliseconds since the last line ended.
    ringing_ms: u32,
}

impl SoundFontBand {
    /// A receiver at rest.
    ///
    /// # Errors
    /// [`SoundFontError::Lines`], [`SoundFontError::Refused`].
    pub fn new(
        lines: Vec<LinePlayer>,
        font: &Arc<SoundFont>,
        program: u8,
        (rate_hz, has_room): (u32, bool),
    ) -> Result<SoundFontBand, SoundFontError> {
        if lines.len() > LINES_MAX {
            return Err(SoundFontError::Lines { count: lines.len() });
        }
        let mut settings = SynthesizerSettings::new(rate_hz as i32);
        settings.enable_reverb_and_chorus = has_room;
        let mut synthesizer = Synthesizer::new(font, &settings)
            .map_err(|error| SoundFontError::Refused { what: error.to_string() })?;
        let last = lines.len().saturating_sub(1).max(1);
        for line in 0..lines.len() {
            let channel = channel(line);
            synthesizer.process_midi_message(channel, 0xC0, i32::from(program), 0);
            // From left to right (CC 10, 64 in the middle).
            let side = if lines.len() > 1 { 26 + 76 * line / last } else { 64 };
            synthesizer.process_midi_message(channel, 0xB0, 10, side as i32);
        }
        Ok(SoundFontBand { lines, synthesizer, left: Vec::new(), right: Vec::new(), ringing_ms: 0 })
    }

    /// Plays the next millisecond, as long as `out`, left and right.
    pub fn tick(&mut self, out: &mut [[f32; 2]]) {
        for (place, player) in self.lines.iter_mut().enumerate() {
            player.tick(&mut Wire { channel: channel(place), synthesizer: &mut self.synthesizer });
        }
        self.left.resize(out.len(), 0.0);
        self.right.resize(out.len(), 0.0);
        self.synthesizer.render(&mut self.left, &mut self.right);
        for (out, (left, right)) in out.iter_mut().zip(self.left.iter().zip(&self.right)) {
            *out = [*left, *right];
        }
        if self.lines.iter().all(LinePlayer::is_over) {
            self.ringing_ms += 1;
        }
    }

    /// All has been played and has had time to ring.
    pub fn is_over(&self) -> bool {
        self.ringing_ms >= RING_MS
    }
}

fn channel(line: usize) -> i32 {
    let line = line as i32;
    line + i32::from(line >= DRUMS)
}

/// Where a line's messages go: all on its own channel of the receiver.
struct Wire<'a> {
    channel: i32,
    synthesizer: &'a mut Synthesizer,
}

impl Sink for Wire<'_> {
    fn send(&mut self, _frame: u32, message: Message, _: Origin) -> bool {
        let [status, one, two] = message.bytes().0.map(i32::from);
        self.synthesizer.process_midi_message(self.channel, status & 0xF0, one, two);
        true
    }
}
