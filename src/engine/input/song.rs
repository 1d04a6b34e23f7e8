//! Where the song stands, and where it will stand at any time from then on.

/// The song at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Song {
    /// Quarter notes since its start.
    pub beat: f64,
    /// When it stood there, seconds since the anchor.
    pub at_s: f64,
    /// Quarter notes a minute.
    pub tempo_bpm: f64,
    /// False while the transport stands still.
    pub is_running: bool,
}

impl Song {
    /// The start of a song that stands.
    pub const START: Song = Song { beat: 0.0, at_s: 0.0, tempo_bpm: 120.0, is_running: false };

    /// Quarter notes since its start.
    pub fn beat_at(&self, now_s: f64) -> f64 {
        let moved_s = if self.is_running { now_s - self.at_s } else { 0.0 };
        self.beat + moved_s * self.tempo_bpm / 60.0
    }

    /// When it stands, or stood, at a beat; a song that does not run never comes there.
    pub fn time_of(&self, beat: f64) -> f64 {
        if self.is_running {
            self.at_s + (beat - self.beat) * 60.0 / self.tempo_bpm
        } else {
            f64::INFINITY
        }
    }

    /// The same song with `now_s` as time 0.
    pub fn anchored_at(self, now_s: f64) -> Song {
        Song { beat: self.beat_at(now_s), at_s: 0.0, ..self }
    }
}
