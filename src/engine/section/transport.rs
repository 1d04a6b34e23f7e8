//! The song stops, jumps or loops, someone panics: nothing hangs, and all is told again.

use super::company::Company;
use super::{At, LINES_MAX, Section};
use crate::input::song::Song;
use crate::output::Sink;
use crate::output::outlet::LineOut;
use crate::output::switching::Switching;

impl Section {
    /// The song jumps: everything ends, and time counts from 0 at this frame.
    pub(super) fn jump(&mut self, stream_frame: u64, frame: u32, sink: &mut impl Sink) {
        let at = self.at(frame, stream_frame);
        self.each_line(at, sink, |line, _, out| line.close(out));
        let mut out = self.outlet(at, sink);
        out.sender.lift_pedals();
        out.sender.close_all();
        self.feedback.forget();
        self.clock.anchor(stream_frame);
        self.is_resting = false;
        self.setup.niente_is_open = false;
        let (setup, hand) = (&self.setup, &self.setup.patch.hand);
        for gesture in &mut self.gestures {
            gesture.settle(hand);
        }
        for place in 0..LINES_MAX {
            let gesture = self.gestures[self.gesture_place(place)].now();
            // Each voice is the one of its place again, wherever a song begins.
            self.lines[place].rename(setup, place as u8);
            self.lines[place].jump(setup, gesture);
            // What the jump has sent is still charged.
            let out = &mut self.outs[place];
            *out = LineOut { count: out.count, ..LineOut::unsent(setup) };
        }
        self.company = Company::NONE;
        if !self.is_bypassed {
            self.resync(self.at(frame, stream_frame), sink);
        }
    }

    /// Where the song stands. From running to standing is a stop.
    pub(super) fn follow(&mut self, at: At, song: Song, sink: &mut impl Sink) {
        let has_stopped = self.song.is_running && !song.is_running;
        self.place_song(at.now_s, song);
        if has_stopped {
            self.each_line(at, sink, |line, moment, out| line.stop(moment, out));
            self.mind_company(at.now_s);
        }
    }

    /// Every output's present value again, and the mode with the next note.
    pub(super) fn resync(&mut self, at: At, sink: &mut impl Sink) {
        self.each_line(at, sink, |line, moment, out| {
            if moment.leads {
                out.resync(at.tick, &line.values(moment.setup, &moment.gesture, at.now_s));
            }
        });
    }

    /// The off of every key of a line that sounds, keyswitches too; bend centred; outputs at rest.
    pub(super) fn panic(&mut self, place: usize, at: At, sink: &mut impl Sink) {
        let frozen = self.feedback.take_frozen();
        self.with_line(place, at, sink, |line, moment, out| {
            let setup = moment.setup;
            line.close(out);
            if !setup.bends && moment.leads {
                out.sender.centre(line.channel());
            }
            line.begin_again(setup, moment.gesture.x);
            if !moment.leads {
                return;
            }
            *out.switching = Switching::UNTOLD;
            *out.resync_due_s = f64::INFINITY;
            out.outputs.rest(&line.values(setup, &moment.gesture, 0.0), &mut out.sender);
        });
        self.feedback.give_frozen(frozen);
    }
}
