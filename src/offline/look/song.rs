//! How long a file is, in seconds and bars, how fast it goes and in which metre.

use serde::Serialize;

use crate::offline::midi::tempo_map::TEMPO;
use crate::offline::midi::{Division, File, MetreMap, TempoMap};

/// The most metres that are listed.
const METRES_MAX: usize = 100;

/// Length, tempo and metre.
#[derive(Clone, Debug, Serialize)]
pub struct SongOutline {
    /// 0 (one track) or 1.
    pub format: u16,
    /// Ticks of a quarter note; `None` where ticks are parts of film frames.
    pub quarter_ticks: Option<u16>,
    /// Seconds to the last event.
    pub length_s: f64,
    /// The bar in which it ends, counted from 1; `None` where there are no bars.
    pub bars: Option<u64>,
    /// How fast; `None` where there are no quarter notes.
    pub tempo: Option<Tempo>,
    /// The metres, in order; at least one, and none where there are no bars.
    pub metres: Vec<Metre>,
}

/// Quarter notes a minute.
#[derive(Clone, Debug, Serialize)]
pub struct Tempo {
    /// At the start.
    pub first_bpm: f64,
    /// The slowest.
    pub lowest_bpm: f64,
    /// The fastest.
    pub highest_bpm: f64,
    /// How often it changes.
    pub changes: usize,
    /// The file says it; else 120 is taken (SMF 1.0).
    pub is_stated: bool,
}

/// A metre, from a bar on.
#[derive(Clone, Debug, Serialize)]
pub struct Metre {
    /// The bar, counted from 1.
    pub bar: u64,
    /// Beats of a bar.
    pub beats: u64,
    /// The value of a beat: 4 is a quarter.
    pub value: u64,
    /// The file says it; else 4/4 is taken (SMF 1.0).
    pub is_stated: bool,
}

impl SongOutline {
    /// Of a file, with its clock and its bars.
    pub fn of(file: &File, clock: &TempoMap, metre: Option<&MetreMap>) -> SongOutline {
        let events = || file.tracks.iter().flat_map(|track| &track.events);
        let end_tick = file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
        let has_tempo = events().any(|event| event.meta(TEMPO).is_some());
        let bpm: Vec<f64> = clock.tempo_ticks().map(|tick| clock.tempo_bpm_at(tick)).collect();
        let tempo = Tempo {
            first_bpm: bpm[0],
            lowest_bpm: bpm.iter().copied().fold(f64::INFINITY, f64::min),
            highest_bpm: bpm.iter().copied().fold(0.0, f64::max),
            changes: bpm.windows(2).filter(|pair| pair[0] != pair[1]).count(),
            is_stated: has_tempo,
        };
        let metres = metre.into_iter().flat_map(MetreMap::metres);
        let metre_at = |(bar, beats, value, is_stated)| Metre { bar, beats, value, is_stated };
        SongOutline {
            format: file.format,
            quarter_ticks: match file.division {
                Division::Quarter(ticks) => Some(ticks),
                Division::Frame { .. } => None,
            },
            length_s: clock.seconds_at(end_tick),
            bars: metre.map(|metre| metre.position(end_tick.saturating_sub(1)).0),
            tempo: metre.map(|_| tempo),
            metres: metres.take(METRES_MAX).map(metre_at).collect(),
        }
    }
}
