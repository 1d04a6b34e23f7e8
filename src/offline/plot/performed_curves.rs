//! Everything that a picture shows of one performed line, already in columns.

use super::column::ColumnCurve;
use crate::engine::Phrase;
use crate::engine::patch::Patch;
use crate::offline::Error;
use crate::offline::audit::budget::KnownLine;
use crate::offline::midi::{File, TempoMap};
use crate::offline::perform::{Asked, Observation, RATE_HZ, Raster};
use crate::offline::performed_notes::{PerformedLine, PerformedNote, performed_notes};
use crate::offline::take::line::TakeLine;
use crate::profile::Instrument;

/// Up to this length the line is followed every millisecond.
const FINE_S_MAX: f64 = 1200.0;
/// And beyond it every ten.
const COARSE_MS: u32 = 10;

/// The part of time that the picture shows, and in how many columns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeWindow {
    /// Seconds since the start of the file.
    pub start_s: f64,
    /// Where it ends.
    pub end_s: f64,
    /// How many columns.
    pub column_count: usize,
}

/// One line, performed and looked at.
#[derive(Debug)]
pub struct PerformedCurves {
    /// Its notes.
    pub notes: Vec<PerformedNote>,
    /// The controller as it was moved, share of its range.
    pub raw: ColumnCurve,
    /// The gesture.
    pub gesture: ColumnCurve,
    /// The level.
    pub dynamics: ColumnCurve,
    /// The second level.
    pub expression: ColumnCurve,
    /// Vibrato width, cents peak to peak.
    pub width_cents: ColumnCurve,
    /// Vibrato rate, Hz.
    pub rate_hz: ColumnCurve,
    /// The performed pitch in keys: semitones and their hundredths. Notes take turns, so that
    /// no line leads from one to the next.
    pub pitches: [ColumnCurve; 2],
    /// The weight of each style.
    pub weights: Vec<ColumnCurve>,
    /// What is left of the bow or breath, share.
    pub left: ColumnCurve,
    /// The ambience lift.
    pub send: ColumnCurve,
    /// From when to when a last note is drawn out.
    pub tails: Vec<(f64, f64)>,
}

impl PerformedCurves {
    /// Performs `line` and keeps what falls into the window.
    ///
    /// # Errors
    /// As [`performed_notes`].
    pub fn of(
        file: &File,
        clock: &TempoMap,
        patch: &Patch,
        line: &TakeLine,
        asked: &Asked,
        instrument: &Instrument,
        window: TimeWindow,
    ) -> Result<PerformedCurves, Error> {
        let mut recorder = CurveRecorder::new(patch.vibrato.style_count, window);
        let whole_s = clock.seconds_at(file.tracks[line.track].end_tick);
        let cell_ms = if whole_s <= FINE_S_MAX { 1 } else { COARSE_MS };
        let raster = Raster::Changes(cell_ms * RATE_HZ / 1000);
        let PerformedLine { notes, .. } =
            performed_notes(file, clock, patch, line, asked, raster, |look| recorder.look(look))?;
        recorder.close();
        let mut left = ColumnCurve::new(window.start_s, window.end_s, window.column_count);
        let mut last_s = f64::NEG_INFINITY;
        let cell_s = f64::from(cell_ms) / 1000.0;
        let known = KnownLine { file, clock, patch, line, asked, notes: &notes };
        known.spend(&instrument.budget, cell_ms, |from_s, to_s, spent| {
            if from_s > last_s + cell_s {
                left.lift(last_s);
            }
            left.push(to_s, 1.0 - spent);
            last_s = to_s;
        })?;
        left.lift(last_s);
        let CurveRecorder {
            raw,
            gesture,
            dynamics,
            expression,
            width_cents,
            rate_hz,
            pitches,
            weights,
            send,
            tails,
            ..
        } = recorder;
        Ok(PerformedCurves {
            notes,
            raw,
            gesture,
            dynamics,
            expression,
            width_cents,
            rate_hz,
            pitches,
            weights,
            left,
            send,
            tails,
        })
    }
}

/// Takes the curves down while the line is played.
struct CurveRecorder {
    raw: ColumnCurve,
    gesture: ColumnCurve,
    dynamics: ColumnCurve,
    expression: ColumnCurve,
    width_cents: ColumnCurve,
    rate_hz: ColumnCurve,
    pitches: [ColumnCurve; 2],
    turn: usize,
    weights: Vec<ColumnCurve>,
    send: ColumnCurve,
    tails: Vec<(f64, f64)>,
    tail_since_s: Option<f64>,
    key: Option<u8>,
    now_s: f64,
    window: TimeWindow,
}

impl CurveRecorder {
    fn new(style_count: usize, window: TimeWindow) -> CurveRecorder {
        let curve = || ColumnCurve::new(window.start_s, window.end_s, window.column_count);
        CurveRecorder {
            raw: curve(),
            gesture: curve(),
            dynamics: curve(),
            expression: curve(),
            width_cents: curve(),
            rate_hz: curve(),
            pitches: [curve(), curve()],
            turn: 0,
            weights: (0..style_count).map(|_| curve()).collect(),
            send: curve(),
            tails: Vec::new(),
            tail_since_s: None,
            key: None,
            now_s: 0.0,
            window,
        }
    }

    fn look(&mut self, look: &Observation) {
        let view = look.view;
        let now_s = (look.frame - 1) as f64 / f64::from(RATE_HZ);
        self.now_s = now_s;
        match (self.tail_since_s, view.phrase == Phrase::Tail) {
            (None, true) => self.tail_since_s = Some(now_s),
            (Some(since_s), false) => {
                self.tails.push((since_s, now_s));
                self.tail_since_s = None;
            }
            _ => {}
        }
        if now_s > self.window.end_s {
            return;
        }
        if let Some(raw) = view.raw {
            self.raw.push(now_s, raw);
        }
        self.gesture.push(now_s, view.gesture);
        self.dynamics.push(now_s, view.dynamics);
        self.expression.push(now_s, view.expression);
        self.send.push(now_s, view.send);
        for (curve, weight) in self.weights.iter_mut().zip(view.weights) {
            curve.push(now_s, weight);
        }
        if self.key != view.key {
            self.pitches[self.turn].lift(now_s);
            self.turn = 1 - self.turn;
            self.key = view.key;
        }
        match view.key {
            Some(key) => {
                let semitones = f64::from(key) + view.heard_cents() / 100.0;
                self.pitches[self.turn].push(now_s, semitones);
                self.width_cents.push(now_s, view.width_cents);
                self.rate_hz.push(now_s, view.rate_hz);
            }
            None => {
                self.width_cents.lift(now_s);
                self.rate_hz.lift(now_s);
            }
        }
    }

    fn close(&mut self) {
        self.tails.extend(self.tail_since_s.map(|since_s| (since_s, self.now_s)));
        let curves = [
            &mut self.raw,
            &mut self.gesture,
            &mut self.dynamics,
            &mut self.expression,
            &mut self.send,
        ];
        curves.into_iter().chain(&mut self.weights).for_each(ColumnCurve::close);
    }
}
