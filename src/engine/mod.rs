//! One gesture and the notes go in; everything a player's hands and breath would do comes out.
//!
//! This folder knows only `core` and `libm`: no heap, files, clock, host or framework. It is
//! included by path into a `no_std` probe, so inside it paths start with `super::`.

// In the order of the data path.
pub mod choice;
pub mod event;
pub mod patch;
pub mod wish;

mod knobs;
mod receive;

mod bypass;

mod gap;
mod gesture;
mod hand;
mod ramp;

mod notes;
mod pace;
mod strike;
pub mod strings;
mod transport;

mod dynamics;
mod legato;
mod line;
mod onset;
mod style;
mod tail;
mod vibrato;

mod abandoned;
mod address;
mod echo;
mod fade;
mod moment;
mod output;
mod scale;
mod thrift;
mod told;
mod wire;

pub mod chance;
mod clock;
pub mod curve;
mod glide;
pub mod quick;
pub mod reason;
mod view;

use clock::Clock;
use event::{Input, Sink, Timed};
use gesture::Gesture;
use knobs::Knobs;
use line::{Line, Outlet};
use output::Outputs;
use patch::Patch;
use receive::{TOGETHER_MAX, When};
use wire::{Way, Wire};

pub use view::{Losses, Mode, Phrase, View};

/// The revision of the engine's sound. A change that alters output gets a new number.
pub const REVISION: u32 = 1;

/// How often it is asked whether anything still moves, ticks.
const LOOK_TICKS: u64 = 16;

/// The most bytes of an [`Engine`].
pub const ENGINE_BYTES_MAX: usize = 48 * 1024;
const _: () = assert!(size_of::<Engine>() <= ENGINE_BYTES_MAX);

/// One line's player. It holds no pointer to the heap; every method is safe on the audio thread.
#[derive(Clone, Debug)]
pub struct Engine {
    /// What the files say, changed by the knobs.
    patch: Patch,
    knobs: Knobs,
    clock: Clock,
    line: Line,
    outputs: Outputs,
    wire: Wire,
    /// Nothing has been played yet: the receiver is told everything first.
    is_fresh: bool,
    /// Ticks are left out until something arrives.
    is_resting: bool,
    /// Everything passes untouched.
    is_bypassed: bool,
}

impl Engine {
    /// A ready engine at `sample_rate_hz` (8000..=768000), playing `patch`.
    pub fn prepare(sample_rate_hz: f64, patch: &Patch) -> Engine {
        Engine {
            patch: *patch,
            knobs: Knobs::prepare(patch),
            clock: Clock::prepare(sample_rate_hz),
            line: Line::load(patch, Gesture::load(&patch.hand)),
            outputs: Outputs::load(&patch.target),
            wire: Wire::SILENT,
            is_fresh: true,
            is_resting: false,
            is_bypassed: false,
        }
    }

    /// Takes other settings; the knobs stay where they were turned, and a gesture from the same
    /// source where it stands. In mid-note the note goes on, and what goes out moves from the old
    /// settings' values to the new ones' over 50 ms, at the cost of a dozen numbers. Else all
    /// starts afresh. Every output is sent again first thing in the next `process`.
    pub fn load(&mut self, patch: &Patch) {
        self.wire.echo.thaw();
        self.patch = *patch;
        self.knobs.load(&mut self.patch);
        let now_s = self.clock.frame_s(self.clock.block_frame());
        self.outputs = Outputs::after(&self.outputs, &self.patch.target);
        self.is_resting = false;
        if self.line.is_sounding() {
            self.line.exchange(now_s, &self.patch);
            return;
        }
        self.clock.anchor(self.clock.block_frame());
        let Line { song, channel, articulation, mut gesture, .. } = self.line;
        gesture.adopt(&self.patch.hand);
        let song = song.anchored_at(now_s);
        let fresh = Line::load(&self.patch, gesture);
        self.line = Line { song, channel, articulation, ..fresh };
        self.wire.forgive();
        self.is_fresh = true;
    }

    /// Goes on at another sample rate (8000..=768000), as after `reset`.
    pub fn retime(&mut self, sample_rate_hz: f64) {
        self.clock = Clock::prepare(sample_rate_hz);
        self.reset();
    }

    /// Something sounds at the receiver, or sounded before the last `reset` and is still owed
    /// its off: whoever calls must go on calling.
    pub fn owes_offs(&self) -> bool {
        self.wire.is_sounding()
    }

    /// Forgets everything played: the host has deactivated, or goes on at another place and time.
    /// What is bypassed stays so, and so does the articulation that was chosen.
    /// Offs still owed are sent first thing in the next `process`, however much later it comes.
    pub fn reset(&mut self) {
        // Taken apart, so that a new field cannot be forgotten.
        let Engine {
            patch,
            knobs: _,
            clock,
            line,
            outputs,
            wire,
            is_fresh,
            is_resting,
            is_bypassed: _,
        } = self;
        clock.reset();
        let articulation = line.articulation;
        *line = Line { articulation, ..Line::load(patch, Gesture::load(&patch.hand)) };
        *outputs = Outputs::load(&patch.target);
        wire.forgive();
        *is_fresh = true;
        *is_resting = false;
    }

    /// Plays `frame_count` frames. `input` is in order of frames, all below `frame_count`; an
    /// event beyond that is taken at the last frame, one out of order at the frame before it.
    pub fn process(&mut self, frame_count: u32, input: &[Timed], sink: &mut impl Sink) {
        if self.is_fresh {
            self.is_fresh = false;
            let is_bypassed = self.is_bypassed;
            let when = self.when(self.clock.block_frame());
            let now_s = when.now_s;
            let (line, _, mut out) = self.outlet(0, now_s, sink);
            out.way.lift_pedals();
            out.way.close_all();
            // What is owed from before is no charge on what begins.
            out.way.take_count();
            let is_first = |event: &&Timed| event.frame == 0;
            let first = input.iter().take_while(is_first).count();
            if !bypass::last_switch(&input[..first]).unwrap_or(is_bypassed) {
                line.resync(when, &mut out);
            }
        }
        if self.wire.owes_refused() {
            let now_s = self.clock.frame_s(self.clock.block_frame());
            let (_, _, mut out) = self.outlet(0, now_s, sink);
            out.way.send_refused();
        }
        let block_frame = self.clock.block_frame();
        let end_frame = block_frame + u64::from(frame_count);
        let last = frame_count.saturating_sub(1);
        let mut rest = input;
        let mut reached = 0;
        loop {
            let next = rest.first().map(|event| event.frame.clamp(reached, last.max(reached)));
            let next_frame = next.map_or(end_frame, |frame| block_frame + u64::from(frame));
            self.play_ticks(block_frame, next_frame, sink);
            let Some(frame) = next else { break };
            reached = frame;
            let is_together = |event: &&Timed| event.frame <= frame || frame == last;
            let count = rest.iter().take(TOGETHER_MAX).take_while(is_together).count();
            let (together, later) = rest.split_at(count);
            rest = later;
            if together.iter().any(|event| matches!(event.input, Input::Locate { .. })) {
                self.jump(next_frame, frame, sink);
            }
            self.turn(together);
            let when = self.when(next_frame);
            self.wake();
            self.switch(frame, when, together, sink);
            let is_bypassed = self.is_bypassed;
            let (line, patch, mut out) = self.outlet(frame, when.now_s, sink);
            if is_bypassed {
                line.pass_together(when, together, &mut out);
            } else {
                line.receive_together(when, together, patch, &mut out);
            }
        }
        self.clock.advance(frame_count);
    }

    /// The song jumps: everything ends, and time begins anew at this frame.
    fn jump(&mut self, at_frame: u64, frame: u32, sink: &mut impl Sink) {
        let now_s = self.clock.frame_s(at_frame);
        let (line, _, mut out) = self.outlet(frame, now_s, sink);
        line.flush(&mut out);
        self.wire.echo.forget();
        self.clock.anchor(at_frame);
        self.is_resting = false;
        self.line.jump(&self.patch);
        self.outputs = Outputs::load(&self.patch.target);
        if self.is_bypassed {
            return;
        }
        let when = self.when(at_frame);
        let (line, _, mut out) = self.outlet(frame, when.now_s, sink);
        line.resync(when, &mut out);
    }

    /// Turns the knobs of one frame.
    fn turn(&mut self, together: &[Timed]) {
        let mut is_turned = false;
        for event in together {
            if let Input::Parameter(parameter, value) = event.input {
                self.knobs.turn(parameter, value);
                is_turned = true;
            }
        }
        if is_turned {
            self.knobs.apply(&mut self.patch);
            self.line.turn(&self.patch);
        }
    }

    /// The end of a take: the off of everything that still sounds, and the bend centred, at the
    /// first frame of the block that would come next. Then all is as after `reset`.
    pub fn finish(&mut self, sink: &mut impl Sink) {
        let now_s = self.clock.frame_s(self.clock.block_frame());
        let (line, _, mut out) = self.outlet(0, now_s, sink);
        line.close(&mut out);
        out.way.close_all();
        self.reset();
    }

    /// The present values, at the last tick played.
    pub fn view(&self) -> View {
        View { frozen: self.wire.echo.frozen(), ..self.line.view(self.last_tick_s()) }
    }

    /// The articulation that was chosen last, by its place in the common list; `None` until one
    /// is. What a project keeps, to be given back by [`Engine::restore_articulation`].
    pub fn articulation(&self) -> Option<u8> {
        self.line.articulation
    }

    /// As a project kept it; `None`, or a place beyond the list, takes a choice back. Notes that
    /// begin from here on have it.
    pub fn restore_articulation(&mut self, articulation: Option<u8>) {
        let is_known = |place: &u8| usize::from(*place) < patch::ARTICULATIONS_MAX;
        self.line.articulation = articulation.filter(is_known);
    }

    /// What could not be done.
    pub fn losses(&self) -> Losses {
        Losses {
            dropped_messages: self.wire.dropped_messages(),
            late_values: self.outputs.late_values(),
            stolen_notes: self.line.stolen_notes,
        }
    }

    /// Another tick would change nothing: until the next event, time passes at no cost.
    pub fn is_settled(&self) -> bool {
        let now_s = self.last_tick_s();
        let is_still = |line: &Line| self.outputs.is_settled(&line.moment(now_s));
        self.is_bypassed || self.line.is_settled(now_s) && is_still(&self.line)
    }

    /// All ticks before a frame.
    fn play_ticks(&mut self, block_frame: u64, before_frame: u64, sink: &mut impl Sink) {
        while self.clock.tick_frame() < before_frame {
            if self.clock.tick().is_multiple_of(LOOK_TICKS) && self.is_settled() {
                self.is_resting = true;
            }
            if self.is_resting || self.is_bypassed {
                self.clock.skip_to(before_frame);
                return;
            }
            let (now_s, tick) = (self.clock.tick_s(), self.clock.tick());
            let frame = (self.clock.tick_frame() - block_frame) as u32;
            let (line, _, mut out) = self.outlet(frame, now_s, sink);
            line.tick(now_s, tick, &mut out);
            self.clock.next_tick();
        }
    }

    /// Something arrives: ticks count again.
    fn wake(&mut self) {
        if self.is_resting {
            self.is_resting = false;
            self.outputs.skip_to(self.clock.tick());
        }
    }

    fn last_tick_s(&self) -> f64 {
        self.clock.tick().saturating_sub(1) as f64 / clock::TICKS_PER_SECOND
    }

    fn when(&self, frame: u64) -> When {
        When { now_s: self.clock.frame_s(frame), tick: self.clock.tick() }
    }

    /// The line, its patch and the way out, at a frame of the present block.
    fn outlet<'a, S: Sink>(
        &'a mut self,
        frame: u32,
        now_s: f64,
        sink: &'a mut S,
    ) -> (&'a mut Line, &'a Patch, Outlet<'a, S>) {
        let way = Way { frame, now_s, wire: &mut self.wire, sink };
        (&mut self.line, &self.patch, Outlet { outputs: &mut self.outputs, way })
    }
}
