//! Up to eight lines under one patch, one clock and one gesture: the way of a block through all of them.

mod bypass;
mod company;
mod matching;
mod niente;
mod receive;
mod retouching;
mod seen;
mod settings;
mod share_out;
mod transport;
mod voices;

use crate::gesture::conditioning::Gesture;
use crate::input::event::{Input, Timed};
use crate::input::order::{TOGETHER_MAX, last_bypass};
use crate::input::song::Song;
use crate::line::{Line, Moment};
use crate::math::clock::{Clock, TICKS_PER_SECOND};
use crate::math::grain::{SAME_S, is_reached};
use crate::output::Sink;
use crate::output::feedback::Feedback;
use crate::output::outlet::{LineOut, Outlet};
use crate::output::sounding::Sounding;
use crate::patch::controls::Controls;
use crate::patch::setup::Setup;
use company::Company;

/// The most lines of one section.
pub const LINES_MAX: usize = 8;
/// The most bytes of a [`Section`] of eight lines, its patch and outputs included.
pub const SECTION_BYTES_MAX: usize = 112 * 1024;
const _: () = assert!(size_of::<Section>() <= SECTION_BYTES_MAX);

/// How often it is asked whether anything still moves, ticks.
const LOOK_TICKS: u64 = 16;

/// Up to eight lines that play as one. It holds no pointer to the heap; every method is safe on
/// the audio thread, and all are called by one thread at a time.
#[derive(Clone, Debug)]
pub struct Section {
    setup: Setup,
    controls: Controls,
    clock: Clock,
    song: Song,
    /// The articulation that was chosen last.
    articulation: Option<u8>,
    /// See [`Section::niente_from`]; the largest number is nowhere.
    niente_from: i32,
    /// When what is asked of stretches next comes to something else, seconds since the anchor.
    retouch_due_s: f64,
    /// The first is everyone's, unless each note brings its own: then every line has one.
    gestures: [Gesture; LINES_MAX],
    gesture_count: usize,
    lines: [Line; LINES_MAX],
    line_count: usize,
    /// How many channels are played: one line each, or several voices of the only one.
    channel_count: usize,
    company: Company,
    /// Voices share one channel and one way out, the first.
    shares_way_out: bool,
    /// A join may end the note that it leaves: no voice is free.
    may_cut: bool,
    outs: [LineOut; LINES_MAX],
    sounding: Sounding,
    feedback: Feedback,
    /// Messages that were passed over since no wire can carry them.
    refused_messages: u64,
    /// Nothing has been played yet: the receiver is told everything first.
    is_fresh: bool,
    /// Ticks are left out until something arrives.
    is_resting: bool,
    /// Everything passes untouched.
    is_bypassed: bool,
}

/// A frame of the present block, its time and the next tick.
#[derive(Clone, Copy, Debug)]
struct At {
    frame: u32,
    now_s: f64,
    tick: u64,
}

/// What an adapter says of a message.
#[derive(Clone, Copy)]
struct Mark {
    tag: u32,
    /// A hand plays it, not the song.
    is_live: bool,
}

impl Section {
    /// Plays `frame_count` frames. `input` is in order of frames, all below `frame_count`; an
    /// event beyond that is taken at the last frame, one out of order at the frame before it.
    /// Audio thread.
    pub fn process(&mut self, frame_count: u32, input: &[Timed], sink: &mut impl Sink) {
        self.open_block(input, sink);
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
            self.play_events(frame, next_frame, together, sink);
        }
        self.clock.advance(frame_count);
    }

    /// The first block ever, and offs that found no room in the last one.
    fn open_block(&mut self, input: &[Timed], sink: &mut impl Sink) {
        let at = self.at(0, self.clock.block_frame());
        if self.is_fresh {
            self.is_fresh = false;
            let mut out = self.outlet(at, sink);
            out.sender.lift_pedals();
            out.sender.close_all();
            // What is owed from before is no charge on what begins.
            out.sender.take_count();
            let is_first = |event: &&Timed| event.frame == 0;
            let first = input.iter().take_while(is_first).count();
            if !last_bypass(&input[..first]).unwrap_or(self.is_bypassed) {
                self.resync(at, sink);
            }
        }
        if self.sounding.owes_refused {
            self.outlet(at, sink).sender.send_refused();
        }
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
            let frame = (self.clock.tick_frame() - block_frame) as u32;
            self.play_tick(frame, sink);
            self.clock.next_tick();
        }
    }

    /// One tick, from the hand to the receiver: the gesture, then each line's layers, then what of
    /// them is due at an output.
    #[inline]
    fn play_tick(&mut self, frame: u32, sink: &mut impl Sink) {
        let at = At { frame, now_s: self.clock.tick_s(), tick: self.clock.tick() };
        self.gestures[0].tick(&self.setup.patch.hand, at.now_s);
        if at.now_s >= self.retouch_due_s {
            self.retouch(at.now_s);
        }
        if !self.setup.niente_is_open {
            self.open_niente(at.now_s);
        }
        if self.shares_way_out {
            return self.play_shared(at, sink);
        }
        // A single line is addressed by constants, which saves thirty instructions a tick.
        self.play_line((0, 0), at, sink);
        for place in 1..self.line_count {
            self.play_further_line(place, at, sink);
        }
    }

    #[inline(never)]
    fn play_further_line(&mut self, place: usize, at: At, sink: &mut impl Sink) {
        let own = self.gesture_place(place);
        if own > 0 {
            self.gestures[own].tick(&self.setup.patch.hand, at.now_s);
        }
        self.play_line((place, own), at, sink);
    }

    #[inline(always)]
    fn play_line(&mut self, (place, own): (usize, usize), at: At, sink: &mut impl Sink) {
        // The same for all that waits: a time has come when it lies no later than this.
        let by_s = at.now_s + SAME_S;
        if self.lines[place].owes_off_by(by_s) || self.outs[place].is_awaited_by(by_s) {
            return self.play_awaited((place, own), at, sink);
        }
        let At { frame, now_s, tick } = at;
        let (line, out, setup) = (&mut self.lines[place], &mut self.outs[place], &self.setup);
        let gesture = self.gestures[own].now();
        line.tick(setup, gesture, now_s, tick);
        if out.outputs.is_due(tick) {
            line.catch_up(setup);
            let values = line.values(setup, gesture, now_s);
            let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
            let mut out = Outlet::open(out, sounding, feedback, (frame, now_s), sink);
            out.outputs.send_due(tick, &values, &mut out.sender);
        }
    }

    /// The same at a tick at which an off, a keyswitch or a second telling may be due.
    #[cold]
    fn play_awaited(&mut self, (place, own): (usize, usize), at: At, sink: &mut impl Sink) {
        let At { frame, now_s, tick } = at;
        let (line, out, setup) = (&mut self.lines[place], &mut self.outs[place], &self.setup);
        let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
        let mut out = Outlet::open(out, sounding, feedback, (frame, now_s), sink);
        line.send_due_offs(setup, now_s, &mut out);
        out.switching.tick(now_s, &mut out.sender);
        let gesture = self.gestures[own].now();
        line.tick(setup, gesture, now_s, tick);
        let values = line.values(setup, gesture, now_s);
        if is_reached(now_s, *out.resync_due_s) {
            out.tell_all_again(tick, &values, line.sounding_manner(self.articulation));
        }
        if out.outputs.is_due(tick) {
            out.outputs.send_due(tick, &values, &mut out.sender);
        }
    }

    /// The way out of a line.
    fn way_out(&self, line: usize) -> usize {
        if self.shares_way_out { 0 } else { line }
    }

    /// Which gesture a line follows.
    fn gesture_place(&self, line: usize) -> usize {
        if self.gesture_count > 1 { line } else { 0 }
    }

    /// All events of one frame.
    fn play_events(
        &mut self,
        frame: u32,
        stream_frame: u64,
        together: &[Timed],
        sink: &mut impl Sink,
    ) {
        if let Some(beat) = together.iter().rev().find_map(located) {
            // The lines begin anew, and the receiver is told, as it is there.
            self.retouch_settings(beat);
            self.jump(stream_frame, frame, sink);
        }
        self.turn(together);
        let at = self.at(frame, stream_frame);
        self.wake();
        if at.now_s >= self.retouch_due_s {
            self.retouch(at.now_s);
        }
        self.switch(at, together, sink);
        if self.is_bypassed {
            self.pass_together(at, together, sink);
        } else {
            self.receive_together(at, together, sink);
        }
    }

    /// The end of a take: the off of everything that still sounds, and the bend centred, at the
    /// first frame of the block that would come next. Then all is as after `reset`. Audio thread.
    pub fn finish(&mut self, sink: &mut impl Sink) {
        let at = self.at(0, self.clock.block_frame());
        self.each_line(at, sink, |line, _, out| line.close(out));
        self.outlet(at, sink).sender.close_all();
        self.reset();
    }

    /// Something sounds at the receiver, or sounded before the last `reset` and is still owed
    /// its off: whoever calls must go on calling. Audio thread.
    pub fn owes_offs(&self) -> bool {
        !self.sounding.keys.is_empty()
    }

    /// Another tick would change nothing: until the next event, time passes at no cost. Audio
    /// thread.
    pub fn is_settled(&self) -> bool {
        let (setup, now_s) = (&self.setup, self.last_tick_s());
        let is_still = |place: usize| {
            let (line, out) = (&self.lines[place], &self.outs[self.way_out(place)]);
            let gesture = self.gestures[self.gesture_place(place)].now();
            let is_still = line.is_settled(setup, gesture, now_s);
            if !self.leads(place) {
                return is_still;
            }
            is_still
                && out.switching.is_settled()
                && out.resync_due_s == f64::INFINITY
                && out.outputs.is_settled(&line.values(setup, gesture, now_s))
        };
        let gestures = &self.gestures[..self.gesture_count];
        self.is_bypassed
            || self.retouch_due_s == f64::INFINITY
                && !self.awaits_niente()
                && gestures.iter().all(Gesture::is_settled)
                && (0..self.line_count).all(is_still)
    }

    /// Something arrives: ticks count again.
    fn wake(&mut self) {
        if self.is_resting {
            self.is_resting = false;
            for out in &mut self.outs[..self.line_count] {
                out.outputs.skip_to(&self.setup, self.clock.tick());
            }
        }
    }

    fn playing(&self) -> impl Iterator<Item = &Line> {
        self.lines[..self.line_count].iter()
    }

    fn is_sounding(&self) -> bool {
        self.playing().any(Line::is_sounding)
    }

    fn last_tick_s(&self) -> f64 {
        self.clock.tick().saturating_sub(1) as f64 / TICKS_PER_SECOND
    }

    fn at(&self, frame: u32, stream_frame: u64) -> At {
        At { frame, now_s: self.clock.frame_s(stream_frame), tick: self.clock.tick() }
    }

    /// The way out at one frame, for what concerns no single line.
    fn outlet<'a, S: Sink>(&'a mut self, at: At, sink: &'a mut S) -> Outlet<'a, S> {
        let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
        Outlet::open(&mut self.outs[0], sounding, feedback, (at.frame, at.now_s), sink)
    }

    /// A line with what it is played with and its way out.
    fn with_line<S: Sink, T>(
        &mut self,
        place: usize,
        at: At,
        sink: &mut S,
        act: impl FnOnce(&mut Line, &Moment<'_>, &mut Outlet<'_, S>) -> T,
    ) -> T {
        let moment = Moment {
            setup: &self.setup,
            gesture: *self.gestures[self.gesture_place(place)].now(),
            song: &self.song,
            articulation: self.articulation,
            now_s: at.now_s,
            tick: at.tick,
            leads: self.leads(place),
            carried_cents: self.company.carried_cents,
            may_cut: self.may_cut,
        };
        let way_out = self.way_out(place);
        let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
        let (out, frame) = (&mut self.outs[way_out], (at.frame, at.now_s));
        let mut out = Outlet::open(out, sounding, feedback, frame, sink);
        act(&mut self.lines[place], &moment, &mut out)
    }

    /// Every line in turn.
    fn each_line<S: Sink>(
        &mut self,
        at: At,
        sink: &mut S,
        mut act: impl FnMut(&mut Line, &Moment<'_>, &mut Outlet<'_, S>),
    ) {
        for place in 0..self.line_count {
            self.with_line(place, at, sink, &mut act);
        }
    }
}

/// Where an event takes the song to.
fn located(event: &Timed) -> Option<f64> {
    match event.input {
        Input::Locate { beat, .. } => Some(beat),
        _ => None,
    }
}
