//! A whole MIDI file in memory: what its ticks mean, its tracks, and everything else that it holds.

use super::event::TrackEvent;

/// The largest file that is read, bytes.
pub const FILE_BYTES_MAX: usize = 64 * 1024 * 1024;
/// The most events of one file.
pub const EVENT_COUNT_MAX: usize = 8_000_000;

/// What one tick of a file means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Division {
    /// Ticks of a quarter note, 1..=32767.
    Quarter(u16),
    /// Ticks of a film frame: a tick has a fixed length and there is no tempo.
    Frame {
        /// 24, 25, 29 (that is 29.97) or 30.
        frames_per_s: u8,
        /// Ticks of one frame, 1..=255.
        ticks: u8,
    },
}

impl std::fmt::Display for Division {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Division::Quarter(_) => write!(f, "quarter notes"),
            Division::Frame { frames_per_s: 29, .. } => write!(f, "29.97 film frames a second"),
            Division::Frame { frames_per_s, .. } => {
                write!(f, "{frames_per_s} film frames a second")
            }
        }
    }
}

impl Division {
    /// The smallest factor that makes ticks fine enough for a performance: 960 of a quarter
    /// note, or of half a second where there is no tempo (as far as the format allows).
    pub fn factor(self) -> u64 {
        match self {
            Division::Quarter(ticks) => 960_u64.div_ceil(u64::from(ticks)),
            Division::Frame { frames_per_s, ticks } => {
                let ticks_per_s = u64::from(frames_per_s) * u64::from(ticks);
                1920_u64.div_ceil(ticks_per_s).min(255 / u64::from(ticks))
            }
        }
    }

    /// The division with ticks `factor` times as fine.
    pub fn finer(self, factor: u64) -> Division {
        match self {
            Division::Quarter(ticks) => Division::Quarter((u64::from(ticks) * factor) as u16),
            Division::Frame { frames_per_s, ticks } => {
                Division::Frame { frames_per_s, ticks: (u64::from(ticks) * factor) as u8 }
            }
        }
    }

    /// The division with ticks `factor` times as coarse, if it comes out even.
    pub fn coarser(self, factor: u64) -> Option<Division> {
        let divided =
            |ticks: u64| (factor > 0 && ticks.is_multiple_of(factor)).then(|| ticks / factor);
        Some(match self {
            Division::Quarter(ticks) => Division::Quarter(divided(ticks.into())? as u16),
            Division::Frame { frames_per_s, ticks } => {
                Division::Frame { frames_per_s, ticks: divided(ticks.into())? as u8 }
            }
        })
    }
}

/// One track: its events in order of time, and where it ends.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Everything but the end of the track; ticks never fall.
    pub events: Vec<TrackEvent>,
    /// The tick of the end of the track, at or after the last event.
    pub end_tick: u64,
}

/// A chunk that is neither header nor track, kept as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Foreign {
    /// How many tracks stand before it.
    pub after_track_count: usize,
    /// Name, length and contents.
    pub bytes: Vec<u8>,
}

/// A whole file.
#[derive(Clone, Debug, PartialEq)]
pub struct File {
    /// 0 (one track) or 1 (tracks side by side).
    pub format: u16,
    /// What a tick means.
    pub division: Division,
    /// What a longer header holds after its first six bytes.
    pub header_rest: Vec<u8>,
    /// The tracks.
    pub tracks: Vec<Track>,
    /// Chunks of other kinds.
    pub foreign: Vec<Foreign>,
    /// What follows the last chunk.
    pub tail: Vec<u8>,
}

impl File {
    /// Gives the file another division of the same kind, its ticks in proportion. False, and
    /// nothing is changed, if a tick does not come out even.
    pub fn rescale(&mut self, division: Division) -> bool {
        let (now, then) = match (self.division, division) {
            (Division::Quarter(now), Division::Quarter(then)) => (now.into(), then.into()),
            (
                Division::Frame { frames_per_s: one, ticks: now },
                Division::Frame { frames_per_s: other, ticks: then },
            ) if one == other => (u128::from(now), u128::from(then)),
            _ => return false,
        };
        let scaled = |tick: u64| {
            let tick = u128::from(tick) * then;
            tick.is_multiple_of(now).then(|| u64::try_from(tick / now).ok()).flatten()
        };
        let is_even = |track: &Track| {
            let ticks = track.events.iter().map(|event| event.tick);
            ticks.chain([track.end_tick]).all(|tick| scaled(tick).is_some())
        };
        if !self.tracks.iter().all(is_even) {
            return false;
        }
        for track in &mut self.tracks {
            let ticks = track.events.iter_mut().map(|event| &mut event.tick);
            ticks
                .chain([&mut track.end_tick])
                .for_each(|tick| *tick = scaled(*tick).unwrap_or(*tick));
        }
        self.division = division;
        true
    }
}
