//! The lines stand aside: what arrives goes out as it is, until they are wanted again.

use super::{At, Mark, Section};
use crate::gesture::controller::Controller;
use crate::input::event::{Input, Timed};
use crate::input::message::{ALL_NOTES_OFF, ALL_SOUND_OFF, SUSTAIN_CONTROLLER};
use crate::input::order::last_bypass;
use crate::input::song::Song;
use crate::input::{Channel, Key, Message};
use crate::output::{Origin, Sink};

impl Section {
    /// Stands aside or comes back, as the last switch of one frame says.
    pub(super) fn switch(&mut self, at: At, together: &[Timed], sink: &mut impl Sink) {
        let Some(is_bypassed) = last_bypass(together) else { return };
        if is_bypassed == self.is_bypassed {
            return;
        }
        self.is_bypassed = is_bypassed;
        self.each_line(at, sink, |line, _, out| line.close(out));
        self.outlet(at, sink).sender.close_all();
        self.untell();
        self.each_line(at, sink, |line, moment, out| {
            line.begin_again(moment.setup, moment.gesture.x);
            if !moment.leads {
                return;
            }
            if is_bypassed {
                // What the gesture made of the receiver must not stay: it would be quiet or silent.
                let values = line.values(moment.setup, &moment.gesture, 0.0);
                out.outputs.leave(&values, &mut out.sender);
            } else {
                out.outputs.skip_to(moment.setup, at.tick);
            }
        });
        if !is_bypassed {
            self.resync(at, sink);
        }
    }

    /// All events of one frame go out as they came. The hand, the song and the keys are watched,
    /// so that the lines can come back and nothing is left sounding.
    pub(super) fn pass_together(&mut self, at: At, events: &[Timed], sink: &mut impl Sink) {
        for event in events {
            match event.input {
                Input::Midi(message) => {
                    let mark = Mark { tag: event.tag, is_live: !self.song.is_running };
                    self.pass(at, message, mark, sink);
                }
                Input::Live(message) => {
                    self.pass(at, message, Mark { tag: event.tag, is_live: true }, sink);
                }
                Input::Gesture(value) => self.receive_recorded(at.now_s, value, false),
                Input::Song { beat, tempo_bpm, running }
                | Input::Locate { beat, tempo_bpm, running } => {
                    if self.song.is_running && !running {
                        self.end_song(at, sink);
                    }
                    let at_s = at.now_s;
                    self.place_song(at_s, Song { beat, at_s, tempo_bpm, is_running: running });
                }
                Input::Panic => {
                    let mut out = self.outlet(at, sink);
                    out.sender.lift_pedals();
                    out.sender.close_all();
                }
                Input::Articulation(articulation) => self.choose(articulation),
                Input::Parameter(..) | Input::Bypass(_) | Input::Resync | Input::Wish(_) => {}
                Input::Thaw => self.feedback.thaw(),
            }
        }
    }

    /// The song stops: its notes and pedals end, a hand's stay.
    fn end_song(&mut self, at: At, sink: &mut impl Sink) {
        self.outlet(at, sink).sender.close_song();
        if !self.playing().any(|line| line.is_pedal_live()) {
            self.outlet(at, sink).sender.lift_pedals();
        }
    }

    fn pass(&mut self, at: At, message: Message, mark: Mark, sink: &mut impl Sink) {
        let Mark { tag, is_live } = mark;
        let Some(channel) = Channel::new(message.channel()).filter(|_| message.is_whole()) else {
            self.refused_messages += 1;
            return;
        };
        let hand = &self.setup.patch.hand;
        if Controller::is_source(hand, message, None) {
            self.gestures[0].receive(hand, at.now_s, message, false);
        }
        let place = self.line_of(channel.number());
        if let Message::NoteOn { key, .. } = message
            && let Some(articulation) = self.chosen_by(key)
        {
            self.choose(articulation);
        }
        if let Message::Controller { number: SUSTAIN_CONTROLLER, .. } = message {
            self.lines[place].mark_pedal(is_live);
        }
        let mut out = self.outlet(at, sink);
        match message {
            Message::NoteOn { key, velocity, .. } if let Some(key) = Key::new(key) => {
                out.sender.note_on(channel, key, f64::from(velocity), Origin::Note(tag));
                out.sender.sounding.live.set(channel, key, is_live);
            }
            Message::NoteOff { key, velocity, .. } if let Some(key) = Key::new(key) => {
                out.sender.note_off(channel, key, f64::from(velocity), Origin::Note(tag));
            }
            Message::Controller { number: ALL_SOUND_OFF | ALL_NOTES_OFF, .. } => {
                out.sender.close_all();
                out.sender.send(message, Origin::Passed(tag));
            }
            _ => out.sender.send(message, Origin::Passed(tag)),
        }
    }
}
