//! Where the song stands: the host says it with every block, the engine hears it when it matters.

use nice_plug::prelude::Transport;

use crate::engine::event::Input;

/// A place this far from where the song should be is a jump, in beats; chance rounds to 1/48.
const JUMP_BEATS: f64 = 0.001;
/// Stands in where a host has no tempo, quarter notes a minute.
const TEMPO_BPM: f64 = 120.0;

/// The song as the engine knows it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Known {
    beat: f64,
    tempo_bpm: f64,
    is_running: bool,
    /// Frames since then.
    frames: u64,
}

/// Follows the host's transport.
#[derive(Clone, Copy, Debug, Default)]
pub struct Song {
    known: Option<Known>,
}

impl Song {
    /// Knows nothing, so that the next block tells everything.
    pub fn forget(&mut self) {
        self.known = None;
    }

    /// The song runs.
    pub fn is_running(&self) -> bool {
        self.known.is_some_and(|known| known.is_running)
    }

    /// What the engine must hear at the first frame of a block: the start, a stop, another
    /// tempo, a jump. A host that does not say where it is stands still.
    pub fn hear(&mut self, transport: &Transport, sample_rate_hz: f64) -> Option<Input> {
        let beat = transport.pos_beats().filter(|beat| beat.is_finite());
        let tempo = transport.tempo.filter(|tempo| tempo.is_finite() && *tempo > 0.0);
        let now = Known {
            beat: beat.unwrap_or(0.0),
            tempo_bpm: tempo.unwrap_or(TEMPO_BPM),
            is_running: transport.playing && beat.is_some(),
            frames: 0,
        };
        let is_as_expected = self.known.is_some_and(|known| {
            let passed_s = known.frames as f64 / sample_rate_hz;
            let moved = if known.is_running { passed_s * known.tempo_bpm / 60.0 } else { 0.0 };
            (now.tempo_bpm, now.is_running) == (known.tempo_bpm, known.is_running)
                && (now.beat - known.beat - moved).abs() < JUMP_BEATS
        });
        if is_as_expected {
            return None;
        }
        self.known = Some(now);
        let Known { beat, tempo_bpm, is_running: running, .. } = now;
        Some(Input::Song { beat, tempo_bpm, running })
    }

    /// A block has been played.
    pub fn advance(&mut self, frames: u32) {
        if let Some(known) = &mut self.known {
            known.frames += u64::from(frames);
        }
    }
}
