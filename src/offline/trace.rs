//! The line as a table: one row for every moment and voice, with what sounds and why.

use std::fmt::Write;

use super::peel::TakeBytes;
use super::perform::{
    self, Asked, KeptMessages, Observation, RATE_HZ, Raster, WishOutcomes, articulation_changes,
};
use super::take::{self, PreparedTake};
use super::{Error, Settings};
use crate::engine::patch::ChoicePatch;
use crate::engine::reason::Reason;
use crate::engine::{Phrase, View};
use crate::profile::articulation::name;

/// Frames of a control tick of 1 ms.
const TICK_FRAMES: u32 = RATE_HZ / 1000;
/// The longest step between two rows, milliseconds.
pub const EVERY_MS_MAX: u32 = 60_000;

/// How long a table is, and what the user should know.
#[derive(Debug)]
pub struct Traced {
    /// Rows after the first.
    pub row_count: usize,
    /// Sentences.
    pub notices: Vec<String>,
}

/// Why there is no table, or no whole one.
#[derive(Debug)]
pub enum TraceError<E> {
    /// The take or the settings.
    Take(Error),
    /// Whoever takes the rows could not take one.
    Row(E),
}

impl<E> From<Error> for TraceError<E> {
    fn from(error: Error) -> TraceError<E> {
        TraceError::Take(error)
    }
}

/// Traces one line of a take, a row every `every_ms` (1..=[`EVERY_MS_MAX`]). Each row
/// is given to `take_row` as the line is played: comma-separated values that end with a line feed,
/// the first row the names. Of several lines of music it takes the first and says so.
///
/// # Errors
/// As [`super::shape_bytes`]; then no row was given. As `take_row`; then no other row is given.
pub fn trace_bytes<'a, E>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
    every_ms: u32,
    take_row: impl FnMut(&str) -> Result<(), E>,
) -> Result<Traced, TraceError<E>> {
    let mut take = take::prepare(take, settings)?;
    let mut notices = std::mem::take(&mut take.notices);
    let PreparedTake { file, clock, lines, region, .. } = &take;
    let region = *region;
    let line = lines[0];
    let asked = Asked { kept: KeptMessages::None, ..take.asked(&line, settings) };
    let mut answers = WishOutcomes::new(&asked, region, clock);
    if lines.len() > 1 {
        notices.push(format!(
            "of {} lines only track {}, channel {} is traced; choose another with --track",
            lines.len(),
            line.track + 1,
            line.channel + 1
        ));
    }
    let start = clock.frame_at(region.start, RATE_HZ);
    let end = match region.end {
        u64::MAX => u64::MAX,
        end => clock.frame_at(end, RATE_HZ),
    };
    let tells = settings.patch.target.articulation.choice != ChoicePatch::Silent;
    let mut table = Table::new(settings.styles.len(), head(&settings.styles, tells), take_row);
    let raster = Raster::All(TICK_FRAMES * every_ms.clamp(1, EVERY_MS_MAX));
    let observe = |look: Observation| {
        answers.look(&look);
        let frame = look.frame - 1;
        if look.is_on_raster && (start..end).contains(&frame) {
            look.voices.iter().for_each(|view| table.row(frame, view));
        }
    };
    let performance =
        perform::perform(file, clock, &settings.patch, &line, &asked, raster, observe)?;
    let row_count = table.finish().map_err(TraceError::Row)?;
    let changes = articulation_changes(&asked, &performance, &take, settings);
    notices.extend(changes.iter().filter(|it| it.is_lacking()).map(ToString::to_string));
    notices.extend(answers.sentences(&take.requests, &settings.styles));
    Ok(Traced { row_count, notices })
}

/// Hands rows on until one is refused.
struct Table<F, E> {
    style_count: usize,
    take_row: F,
    /// The row that is written next; at first the names.
    row: String,
    /// Rows so far, the names too.
    count: usize,
    refused: Option<E>,
}

impl<E, F: FnMut(&str) -> Result<(), E>> Table<F, E> {
    fn new(style_count: usize, head: String, take_row: F) -> Table<F, E> {
        Table { style_count, take_row, row: head, count: 0, refused: None }
    }

    fn row(&mut self, frame: u64, view: &View) {
        if self.count == 0 {
            self.hand_on();
        }
        if self.refused.is_none() {
            self.row.clear();
            row(&mut self.row, frame, view, self.style_count);
            self.hand_on();
        }
    }

    fn hand_on(&mut self) {
        self.count += 1;
        self.refused = (self.take_row)(&self.row).err();
    }

    /// How many rows stand under the names.
    fn finish(mut self) -> Result<usize, E> {
        if self.count == 0 {
            self.hand_on();
        }
        match self.refused {
            None => Ok(self.count - 1),
            Some(error) => Err(error),
        }
    }
}

fn head(styles: &[String], tells: bool) -> String {
    let mut head =
        String::from("time_s,key,raw,gesture,dynamics,expression,width_cents,rate_hz,pitch_cents,");
    for style in styles {
        head.push_str("w_");
        head.push_str(style);
        head.push(',');
    }
    head.push_str("legato,");
    if tells {
        head.push_str("articulation,");
    }
    head.push_str("phrase,send,reason,transition_cents,level_db,brightness,voice\n");
    head
}

fn row(csv: &mut String, frame: u64, view: &View, style_count: usize) {
    let View { gesture, dynamics, expression, width_cents, rate_hz, pitch_cents, .. } = view;
    let time_s = frame as f64 / f64::from(RATE_HZ);
    let mut cells = || -> std::fmt::Result {
        write!(csv, "{time_s:.3},")?;
        if let Some(key) = view.key {
            write!(csv, "{key}")?;
        }
        csv.push(',');
        if let Some(raw) = view.raw {
            write!(csv, "{raw:.4}")?;
        }
        write!(csv, ",{gesture:.4},{dynamics:.4},{expression:.4},")?;
        let pitch_cents = without_sign_of_nothing(*pitch_cents);
        write!(csv, "{width_cents:.2},{rate_hz:.3},{pitch_cents:.2},")?;
        for weight in &view.weights[..style_count] {
            write!(csv, "{weight:.4},")?;
        }
        write!(csv, "{},", view.mode.name())?;
        if let Some(articulation) = view.articulation {
            write!(csv, "{},", name(articulation))?;
        }
        write!(csv, "{},{:.4},{},", view.phrase.name(), view.send, reason(view).code())?;
        write!(csv, "{:.2},", without_sign_of_nothing(view.transition_cents))?;
        let voice = u16::from(view.voice) + 1;
        writeln!(csv, "{:.3},{:.4},{voice}", view.level_db, view.brightness)
    };
    // A string takes everything that is written to it.
    cells().unwrap_or_default();
}

/// What would be written as −0.00 is 0.
fn without_sign_of_nothing(cents: f64) -> f64 {
    if cents.abs() < 0.005 { 0.0 } else { cents }
}

/// The reason that says most at this moment.
fn reason(view: &View) -> Reason {
    match view.phrase {
        Phrase::Rest => Reason::Rest,
        Phrase::Tail => view.tail_reason,
        Phrase::Sounding if view.raw.is_none() => Reason::GestureUnknown,
        Phrase::Sounding => view.silence.unwrap_or(view.vibrato_reason),
    }
}
