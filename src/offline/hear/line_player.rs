//! One line of a take, a millisecond at a time: through the engine, or as it was played.

use std::collections::VecDeque;

use crate::engine::patch::NotesPatch;
use crate::engine::{Input, Message, Origin, Section, Sink, Timed, View};
use crate::offline::perform::{AFTER_S_MAX, AFTER_S_MIN, Asked, Placed, RATE_HZ, heard_as_asked};
use crate::offline::take::line::TakeLine;
use crate::offline::take::{PreparedTake, Settings};

/// Frames of a control tick of 1 ms.
const TICK_FRAMES: u64 = RATE_HZ as u64 / 1000;
/// How long the engine runs on after the last event, ticks: as long as for a file.
const AFTER_TICKS_MIN: u64 = 1000 * AFTER_S_MIN;
/// How long at most.
const AFTER_TICKS_MAX: u64 = 1000 * AFTER_S_MAX;

/// A line on its way.
pub struct LinePlayer {
    /// What is still to come.
    inputs: VecDeque<Placed>,
    /// The engine; `None` leaves the notes as they were played.
    section: Option<Box<Section>>,
    block: Vec<Timed>,
    tick: u64,
    /// The tick after the last event.
    last_tick: u64,
    is_over: bool,
}

impl LinePlayer {
    /// The line as the engine performs it.
    pub fn shaped(take: &PreparedTake, settings: &Settings, line: &TakeLine) -> LinePlayer {
        let asked = take.asked(line, settings);
        let section = Section::prepare(f64::from(RATE_HZ), &asked.patch(&settings.patch, line));
        LinePlayer::of(inputs(take, settings, line, &asked), Some(Box::new(section)))
    }

    /// The line's notes and nothing else.
    pub fn plain(take: &PreparedTake, settings: &Settings, line: &TakeLine) -> LinePlayer {
        let mut inputs = inputs(take, settings, line, &take.asked(line, settings));
        inputs.retain(|(_, timed)| is_note(&settings.patch.notes, timed.input));
        LinePlayer::of(inputs, None)
    }

    fn of(inputs: Vec<Placed>, section: Option<Box<Section>>) -> LinePlayer {
        let last_frame = inputs.last().map_or(0, |(frame, _)| *frame);
        LinePlayer {
            inputs: inputs.into(),
            section,
            block: Vec::new(),
            tick: 0,
            last_tick: last_frame / TICK_FRAMES + 1,
            is_over: false,
        }
    }

    /// Plays the next millisecond into `sink`, and says what the line does at its end; `None` of a line
    /// as it was played.
    pub fn tick(&mut self, sink: &mut impl Sink) -> Option<View> {
        let start = self.tick * TICK_FRAMES;
        self.tick += 1;
        self.block.clear();
        let is_due = |input: &mut Placed| input.0 < start + TICK_FRAMES;
        while let Some((frame, timed)) = self.inputs.pop_front_if(is_due) {
            self.block.push(Timed { frame: frame.saturating_sub(start) as u32, ..timed });
        }
        let is_late = self.tick >= self.last_tick + AFTER_TICKS_MIN;
        let Some(section) = &mut self.section else {
            for Timed { frame, input, .. } in &self.block {
                if let Input::Midi(message) = input {
                    // A band has room for what it hears in a millisecond, or leaves it out.
                    let _ = sink.send(*frame, *message, Origin::Note(0));
                }
            }
            self.is_over = self.tick >= self.last_tick;
            return None;
        };
        section.process(TICK_FRAMES as u32, &self.block, sink);
        let view = section.view();
        let is_done = is_late && section.is_settled();
        if !self.is_over && (is_done || self.tick >= self.last_tick + AFTER_TICKS_MAX) {
            section.finish(sink);
            self.is_over = true;
        }
        Some(view)
    }

    /// Nothing more comes.
    pub fn is_over(&self) -> bool {
        self.is_over
    }
}

fn inputs(take: &PreparedTake, settings: &Settings, line: &TakeLine, asked: &Asked) -> Vec<Placed> {
    heard_as_asked(&take.file, &take.clock, &settings.patch.hand, line, asked)
}

fn is_note(notes: &NotesPatch, input: Input) -> bool {
    match input {
        Input::Midi(Message::NoteOn { key, .. } | Message::NoteOff { key, .. }) => {
            !notes.is_foreign(key)
        }
        _ => false,
    }
}
