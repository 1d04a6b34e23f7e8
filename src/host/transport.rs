//! Where the song stands: the host says it with every block, the engine hears it when it matters.
//!
//! A host says only where its song is, not that it has jumped, nor which notes a hand plays. So a
//! song that runs and is not where it must have come to has jumped; one that starts elsewhere than
//! it ended, too. Some hosts reckon the beat as the time that has gone by at the present tempo, so
//! that every change of tempo throws it; where the host says the time too, and that runs on evenly,
//! nothing has jumped and only the beat is told anew. While the song stands, its place means
//! nothing: a hand plays, and nothing cuts its notes. What is played while the song runs cannot be
//! told from what is recorded, since the framework does not hand over the mark that CLAP gives a
//! hand's notes; a stop ends it all.

use nice_plug::prelude::Transport;

use crate::engine::Input;

/// The engine is told the place anew when it is this far off, in beats; chance rounds to 1/48.
const DRIFT_BEATS: f64 = 0.001;
/// A place this far from where the song must have come to is a jump, seconds: as long as a usual
/// block, since hosts say it to the block, and shorter than any loop that is music.
const JUMP_S: f64 = 0.025;
/// Behind a jump in the midst of a block the framework says a place that is too late by the way
/// from the block's start, and the next block sets it right; seconds.
const CORRECTION_S: f64 = 0.2;
/// A host's seconds run on evenly if they are as close as this to the samples played, frames. Less
/// than any block, so that a host that always says the same is not taken for one with small blocks.
const EVEN_FRAMES: f64 = 2.0;
/// Stands in where a host has no tempo, quarter notes a minute.
const TEMPO_BPM: f64 = 120.0;

/// The song at one frame, and how many frames ago that was.
#[derive(Clone, Copy, Debug, PartialEq)]
struct SongPosition {
    beat: f64,
    /// Seconds since the start of the song, if the host says them.
    at_s: Option<f64>,
    tempo_bpm: f64,
    is_running: bool,
    frames: u64,
}

impl SongPosition {
    /// Seconds that the song has run since then.
    fn passed_s(&self, sample_rate_hz: f64) -> f64 {
        if self.is_running { self.frames as f64 / sample_rate_hz } else { 0.0 }
    }

    /// Beats that go by at a tempo since then.
    fn passed_beats(&self, tempo_bpm: f64, sample_rate_hz: f64) -> f64 {
        self.passed_s(sample_rate_hz) * tempo_bpm / 60.0
    }

    /// Where the song has come to, in beats.
    fn reached(&self, sample_rate_hz: f64) -> f64 {
        self.beat + self.passed_beats(self.tempo_bpm, sample_rate_hz)
    }

    /// Where the song has come to, in seconds.
    fn reached_s(&self, sample_rate_hz: f64) -> Option<f64> {
        self.at_s.map(|at_s| at_s + self.passed_s(sample_rate_hz))
    }
}

/// Follows the host's transport. Audio thread.
#[derive(Clone, Copy, Debug, Default)]
pub struct TransportFollower {
    /// At the last block; while the song stands, where it ended.
    last: Option<SongPosition>,
    /// As the engine last heard it.
    told: Option<SongPosition>,
    /// The last block began with a jump.
    has_jumped: bool,
    /// The host's seconds have gone by as the samples have; some hosts always say the same number.
    has_clock: bool,
}

impl TransportFollower {
    /// Knows nothing, so that the next block tells everything.
    pub fn forget(&mut self) {
        *self = TransportFollower::default();
    }

    /// Where the song is that runs, in beats and quarter notes a minute; `None` while it stands.
    pub fn running_at(&self) -> Option<(f64, f64)> {
        self.last.filter(|last| last.is_running).map(|last| (last.beat, last.tempo_bpm))
    }

    /// Where the song has come to by itself since it last said its place, in beats.
    pub fn reached(&self, sample_rate_hz: f64) -> f64 {
        self.last.map_or(0.0, |last| last.reached(sample_rate_hz))
    }

    /// The song runs.
    pub fn is_running(&self) -> bool {
        self.last.is_some_and(|last| last.is_running)
    }

    /// What the engine must hear at the first frame of a block: the start, a stop, another
    /// tempo, another beat, a jump. A host that does not say where it is stands still.
    pub fn hear(&mut self, transport: &Transport, sample_rate_hz: f64) -> Option<Input> {
        let beat = transport.pos_beats().filter(|beat| beat.is_finite());
        let tempo = transport.tempo.filter(|tempo| tempo.is_finite() && *tempo > 0.0);
        let samples_s = transport.pos_samples.map(|samples| samples as f64 / sample_rate_hz);
        let now = SongPosition {
            beat: beat.unwrap_or(0.0),
            at_s: samples_s.or(transport.pos_seconds).filter(|at_s| at_s.is_finite()),
            tempo_bpm: tempo.unwrap_or(TEMPO_BPM),
            is_running: transport.playing && beat.is_some(),
            frames: 0,
        };
        let Some(last) = self.last.replace(now) else { return Some(self.tell(now)) };
        let reached = last.reached(sample_rate_hz);
        if !now.is_running {
            let at_s = last.reached_s(sample_rate_hz);
            self.last = Some(SongPosition { beat: reached, at_s, ..now });
            return last.is_running.then(|| self.tell(now));
        }
        let late_s = now.at_s.zip(last.reached_s(sample_rate_hz));
        let late_s = late_s.map_or(f64::INFINITY, |(at_s, reached_s)| (at_s - reached_s).abs());
        if last.is_running && last.frames > 0 {
            self.has_clock = late_s <= EVEN_FRAMES / sample_rate_hz;
        }
        let runs_on = self.has_clock && late_s <= JUMP_S;
        let follows_jump = std::mem::take(&mut self.has_jumped);
        if !runs_on && is_elsewhere(&last, &now, follows_jump, sample_rate_hz) {
            let SongPosition { beat, tempo_bpm, is_running: running, .. } = now;
            self.told = Some(now);
            self.has_jumped = true;
            return Some(Input::Locate { beat, tempo_bpm, running });
        }
        let is_known = self.told.is_some_and(|told| {
            (told.tempo_bpm, told.is_running) == (now.tempo_bpm, now.is_running)
                && (told.reached(sample_rate_hz) - now.beat).abs() < DRIFT_BEATS
        });
        (!is_known).then(|| self.tell(now))
    }

    fn tell(&mut self, now: SongPosition) -> Input {
        self.told = Some(now);
        let SongPosition { beat, tempo_bpm, is_running: running, .. } = now;
        Input::Song { beat, tempo_bpm, running }
    }

    /// A block has been played.
    pub fn advance(&mut self, frames: u32) {
        for place in [&mut self.last, &mut self.told].into_iter().flatten() {
            place.frames += u64::from(frames);
        }
    }
}

/// By its beats the song is where it cannot have come to by itself. Within a block the tempo may
/// have changed anywhere.
fn is_elsewhere(
    last: &SongPosition,
    now: &SongPosition,
    follows_jump: bool,
    sample_rate_hz: f64,
) -> bool {
    let at_last = last.passed_beats(last.tempo_bpm, sample_rate_hz);
    let at_now = last.passed_beats(now.tempo_bpm, sample_rate_hz);
    let beats = |seconds: f64| seconds * last.tempo_bpm.max(now.tempo_bpm) / 60.0;
    let back_s = if follows_jump { CORRECTION_S } else { JUMP_S };
    let moved = now.beat - last.beat;
    moved < at_last.min(at_now) - beats(back_s) || moved > at_last.max(at_now) + beats(JUMP_S)
}
