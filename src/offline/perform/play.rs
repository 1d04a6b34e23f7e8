//! Plays one line through the engine, note by note at the very ticks of the take.

use super::inputs::{self, Placed};
use super::performance::{Asked, Fed, KeptMessages, Observation, Performance, RATE_HZ, Raster};
use crate::engine::Section;
use crate::engine::patch::{NotesPatch, Patch};
use crate::engine::{Input, Message, Origin, Phrase, Sink, Timed, View};
use crate::offline::error::Error;
use crate::offline::midi::{File, TempoMap};
use crate::offline::take::line::TakeLine;

/// The longest line, hours.
pub const HOURS_MAX: u64 = 24;
/// How long the engine runs on after the last event, at least: tails, sends and offs end.
pub const AFTER_S_MIN: u64 = 3;
/// How long at most.
pub const AFTER_S_MAX: u64 = 30;
/// The longest piece of time that the engine plays at once, frames.
const PIECE_FRAMES_MAX: u64 = 1 << 31;

/// Plays `line` of `file` as `asked`; `observe` is called as `raster` says.
///
/// # Errors
/// [`Error::TooLong`] if the line lasts longer than [`HOURS_MAX`].
pub fn perform(
    file: &File,
    clock: &TempoMap,
    patch: &Patch,
    line: &TakeLine,
    asked: &Asked,
    raster: Raster,
    observe: impl FnMut(Observation),
) -> Result<Performance, Error> {
    let (switches, fed) = inputs::parted(file, &patch.hand, line);
    let by_keys = inputs::chosen_by_keys(&patch.hand, &switches);
    let (inputs, table) = inputs::inputs(file, clock, line, &fed, asked, &by_keys);
    let last_frame = table.last().map_or(0, |(_, frame)| *frame);
    if last_frame > HOURS_MAX * 3600 * u64::from(RATE_HZ) {
        let hours = last_frame as f64 / f64::from(RATE_HZ) / 3600.0;
        return Err(Error::TooLong { track: line.track + 1, hours, hours_max: HOURS_MAX });
    }
    let patch = asked.patch(patch, line);
    let mut run = Run {
        engine: Section::prepare(f64::from(RATE_HZ), &patch),
        inputs: &inputs,
        fed: &fed,
        notes: patch.notes,
        block: Vec::new(),
        out: Collected { start: 0, kept: asked.kept, sent: Vec::new() },
        raster,
        observe,
        voices: Vec::new(),
    };
    run.play(last_frame);
    let losses = run.engine.losses();
    let sent = inputs::at_ticks(run.out.sent, &table, clock);
    Ok(Performance { fed, switches, sent, losses })
}

/// What the engine has sent so far, with frames since the start of the file.
struct Collected {
    start: u64,
    kept: KeptMessages,
    sent: Vec<(u64, Message, Origin)>,
}

impl Sink for Collected {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        if self.kept.keeps(origin) {
            self.sent.push((self.start + u64::from(frame), message, origin));
        }
        true
    }
}

struct Run<'a, F: FnMut(Observation)> {
    engine: Section,
    inputs: &'a [Placed],
    fed: &'a [Fed],
    notes: NotesPatch,
    block: Vec<Timed>,
    out: Collected,
    raster: Raster,
    observe: F,
    /// Those of the last look.
    voices: Vec<View>,
}

/// The values of each voice that sounds, in order, or of the one that leads in silence.
fn sounding<'a>(engine: &Section, voices: &'a mut Vec<View>, leading: View) -> &'a [View] {
    voices.clear();
    let all = (0..engine.line_count()).map(|place| engine.view_of(place));
    voices.extend(all.filter(|view| view.phrase != Phrase::Rest));
    voices.sort_by_key(|view| view.voice);
    if voices.is_empty() {
        voices.push(leading);
    }
    voices
}

impl<F: FnMut(Observation)> Run<'_, F> {
    fn play(&mut self, last_frame: u64) {
        let rate = u64::from(RATE_HZ);
        while self.out.start <= last_frame {
            self.piece();
        }
        let end_min = last_frame + AFTER_S_MIN * rate;
        let end_max = last_frame + AFTER_S_MAX * rate;
        while self.out.start < end_max {
            if self.out.start >= end_min && self.engine.is_settled() {
                break;
            }
            self.piece();
        }
        self.engine.finish(&mut self.out);
    }

    /// The end of the piece that begins at `start`. A point of the raster is heard when its own
    /// frame has been played; points at which nothing changes may be left out.
    fn raster_end(&self, start: u64) -> u64 {
        let raster = self.raster.frames();
        let next = start.div_ceil(raster) * raster + 1;
        let far = match (self.raster, self.inputs.first()) {
            (Raster::Changes(_), Some((frame, _))) if *frame > next + raster => {
                (frame - 1) / raster * raster + 1
            }
            _ => return next,
        };
        if self.engine.is_settled() { far.min(start + PIECE_FRAMES_MAX) } else { next }
    }

    /// Plays to the next point of the raster, or to the next note if that comes first.
    fn piece(&mut self) {
        let start = self.out.start;
        let raster_end = self.raster_end(start);
        let mut end = raster_end;
        let mut begun = None;
        let mut struck = 0;
        self.block.clear();
        while let Some(&(frame, timed)) = self.inputs.first() {
            if frame >= end {
                break;
            }
            if let Input::Midi(Message::NoteOn { key, .. }) = timed.input
                && !self.notes.is_foreign(key)
            {
                begun = self.fed.get(timed.tag as usize).map(|event| event.tick);
                struck |= 1 << key;
                end = frame + 1;
            }
            self.block.push(Timed { frame: (frame - start) as u32, ..timed });
            self.inputs = &self.inputs[1..];
        }
        let frames = (end - start) as u32;
        self.engine.process(frames, &self.block, &mut self.out);
        self.out.start = end;
        let view = self.engine.view();
        let voices = match self.engine.line_count() {
            1 => std::slice::from_ref(&view),
            _ => sounding(&self.engine, &mut self.voices, view),
        };
        let struck = if self.engine.line_count() == 1 { u128::MAX } else { struck };
        let is_on_raster = end == raster_end;
        let (frame, view) = (end, &view);
        (self.observe)(Observation { frame, frames, is_on_raster, begun, struck, view, voices });
    }
}
