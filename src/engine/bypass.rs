//! The line stands aside: what arrives goes out as it is, until it is wanted again.

use super::Engine;
use super::event::{
    ALL_NOTES_OFF, ALL_SOUND_OFF, Input, Message, Origin, SUSTAIN_CONTROLLER, Sink, Timed,
};
use super::line::{Line, Outlet};
use super::receive::{Arrival, When};

impl Engine {
    /// Stands aside or comes back, as the last switch of one frame says.
    pub(super) fn switch(
        &mut self,
        frame: u32,
        when: When,
        together: &[Timed],
        sink: &mut impl Sink,
    ) {
        let Some(is_bypassed) = last_switch(together) else { return };
        if is_bypassed == self.is_bypassed {
            return;
        }
        self.is_bypassed = is_bypassed;
        let (line, patch, mut out) = self.outlet(frame, when.now_s, sink);
        line.close(&mut out);
        out.way.close_all();
        line.begin_again(patch);
        if is_bypassed {
            // What the gesture made of the receiver must not stay: it would be quiet or silent.
            out.outputs.leave(&line.moment(0.0), &mut out.way);
        } else {
            out.outputs.skip_to(when.tick);
            line.resync(when, &mut out);
        }
    }
}

/// The last switch among events, if there is one.
pub(super) fn last_switch(events: &[Timed]) -> Option<bool> {
    let switch = |event: &Timed| match event.input {
        Input::Bypass(is_bypassed) => Some(is_bypassed),
        _ => None,
    };
    events.iter().rev().find_map(switch)
}

impl Line {
    /// All events of one frame go out as they came. The hand, the song and the keys are watched,
    /// so that the line can come back and nothing is left sounding.
    pub(super) fn pass_together(
        &mut self,
        when: When,
        events: &[Timed],
        out: &mut Outlet<'_, impl Sink>,
    ) {
        for event in events {
            match event.input {
                Input::Midi(message) => {
                    let is_live = !self.song.is_running;
                    self.pass(when, message, Arrival { tag: event.tag, is_live }, out);
                }
                Input::Live(message) => {
                    self.pass(when, message, Arrival { tag: event.tag, is_live: true }, out);
                }
                Input::Gesture(value) => self.gesture.receive_recorded(when.now_s, value, false),
                Input::Song { beat, tempo_bpm, running }
                | Input::Locate { beat, tempo_bpm, running } => {
                    let at_s = when.now_s;
                    if self.song.is_running && !running {
                        self.end_song(out);
                    }
                    self.song = super::line::Song { beat, at_s, tempo_bpm, is_running: running };
                }
                Input::Panic => {
                    out.way.lift_pedals();
                    out.way.close_all();
                }
                Input::Articulation(articulation) => self.choose(articulation),
                Input::Parameter(..) | Input::Bypass(_) | Input::Resync | Input::Wish(_) => {}
                Input::Thaw => out.way.wire.echo.thaw(),
            }
        }
    }

    /// The song stops: its notes and pedals end, a hand's stay.
    fn end_song(&mut self, out: &mut Outlet<'_, impl Sink>) {
        out.way.close_song();
        if !self.is_pedal_live {
            out.way.lift_pedals();
        }
    }

    fn pass(
        &mut self,
        when: When,
        message: Message,
        arrival: Arrival,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let Arrival { tag, is_live } = arrival;
        if self.gesture.hand.is_source(message, None) {
            self.gesture.receive(when.now_s, message, false);
        }
        match message {
            Message::NoteOn { channel, key, velocity } => {
                if let Some(articulation) = self.chosen_by(key) {
                    self.choose(articulation);
                }
                out.way.note_on(channel, key, velocity, Origin::Note(tag));
                out.way.wire.mark(channel, key, is_live);
            }
            Message::NoteOff { channel, key, velocity } => {
                out.way.note_off(channel, key, velocity, Origin::Note(tag));
            }
            Message::Controller { number: ALL_SOUND_OFF | ALL_NOTES_OFF, .. } => {
                out.way.close_all();
                out.way.send(message, Origin::Passed(tag));
            }
            Message::Controller { number: SUSTAIN_CONTROLLER, .. } => {
                self.is_pedal_live = is_live;
                out.way.send(message, Origin::Passed(tag));
            }
            _ => out.way.send(message, Origin::Passed(tag)),
        }
    }
}
