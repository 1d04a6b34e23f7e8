//! What each event means: for the gesture, for the song, for the line whose channel it is.

use core::ops::Range;

use super::{At, LINES_MAX, Mark, Section};
use crate::gesture::controller::Controller;
use crate::input::event::{Input, Timed};
use crate::input::message::{
    ALL_NOTES_OFF, ALL_SOUND_OFF, BEND_CENTRE, EXPRESSION_CONTROLLER, MODULATION_CONTROLLER,
    RESET_ALL_CONTROLLERS, SUSTAIN_CONTROLLER, SWITCH_ON_MIN,
};
use crate::input::order::{Rank, TOGETHER_MAX, rank};
use crate::input::song::Song;
use crate::input::{Channel, Key, Message, Wish};
use crate::line::{Line, Struck};
use crate::output::feedback::Recognised;
use crate::output::{Origin, Sink};
use crate::patch::ARTICULATIONS_MAX;

/// Channel and key of the newest key that is down in any of the lines.
fn newest_held(lines: &[Line]) -> Option<(u8, u8)> {
    let held = lines.iter().filter(|line| line.is_owner_held());
    let by_time = |a: &&Line, b: &&Line| a.last_on_s().total_cmp(&b.last_on_s());
    match lines {
        [line] => line.newest_held(),
        _ => held.max_by(by_time)?.newest_held(),
    }
}

impl Section {
    /// All events of one frame, at most [`TOGETHER_MAX`].
    pub(super) fn receive_together(&mut self, at: At, events: &[Timed], sink: &mut impl Sink) {
        if let [event] = events {
            // Alone it is in order.
            return self.receive(at, event, sink);
        }
        let mut ranks = [Rank::Song; TOGETHER_MAX];
        for (place, own) in ranks.iter_mut().enumerate().take(events.len()) {
            let chooses = |key| self.chosen_by(key).is_some();
            *own = rank(events, place, |channel, key| self.held_count(channel, key), chooses);
        }
        for rank in Rank::ALL {
            let ranked = events.iter().zip(&ranks).filter(|(_, own)| **own == rank);
            if rank == Rank::NoteOn && self.has_voices() {
                self.receive_keys(at, ranked.map(|(event, _)| event), sink);
                continue;
            }
            for (event, _) in ranked {
                self.receive(at, event, sink);
            }
        }
    }

    fn held_count(&self, channel: u8, key: u8) -> usize {
        let (Some(on), Some(key)) = (Channel::new(channel), Key::new(key)) else { return 0 };
        if self.has_voices() {
            let holder = self.holder_of(on, key);
            return holder
                .map_or(0, |(place, sounds_on)| self.lines[place].held_count(sounds_on, key));
        }
        self.lines[self.line_of(channel)].held_count(on, key)
    }

    /// The line that plays the notes of a channel.
    pub(super) fn line_of(&self, channel: u8) -> usize {
        let place = usize::from(channel.wrapping_sub(self.setup.patch.home_channel) % 16);
        if place < self.line_count { place } else { 0 }
    }

    /// The lines that play the notes of a channel: one, or all voices.
    pub(super) fn lines_of(&self, channel: u8) -> Range<usize> {
        match self.has_voices() {
            true => 0..self.line_count,
            false => self.line_of(channel)..self.line_of(channel) + 1,
        }
    }

    /// The keys of one frame, shared out to the voices together.
    fn receive_keys<'a>(
        &mut self,
        at: At,
        events: impl Iterator<Item = &'a Timed>,
        sink: &mut impl Sink,
    ) {
        let mut together = [Struck::NONE; LINES_MAX];
        let mut count = 0;
        for event in events {
            let Some(struck) = self.struck(event) else {
                self.receive(at, event, sink);
                continue;
            };
            together[count] = struck;
            count += 1;
            if count == LINES_MAX {
                self.strike_together(at, &together, sink);
                count = 0;
            }
        }
        self.strike_together(at, &together[..count], sink);
    }

    /// The note of an event that a wire can carry.
    fn struck(&self, event: &Timed) -> Option<Struck> {
        let Some(Message::NoteOn { channel, key, velocity }) = event.input.message() else {
            return None;
        };
        let (channel, key) = (Channel::new(channel)?, Key::new(key)?);
        let is_live = matches!(event.input, Input::Live(_)) || !self.song.is_running;
        let tag = event.tag;
        let is_whole = event.input.message().is_some_and(Message::is_whole);
        let struck = Struck { channel, key, velocity: f64::from(velocity), tag, is_live };
        is_whole.then_some(struck)
    }

    fn receive(&mut self, at: At, event: &Timed, sink: &mut impl Sink) {
        match event.input {
            Input::Midi(message) => {
                let mark = Mark { tag: event.tag, is_live: !self.song.is_running };
                self.receive_message(at, mark, message, sink);
            }
            Input::Live(message) => {
                self.receive_message(at, Mark { tag: event.tag, is_live: true }, message, sink);
            }
            Input::Gesture(value) => {
                self.receive_recorded(at.now_s, value, self.is_sounding());
                self.land(at.now_s);
            }
            Input::Song { beat, tempo_bpm, running }
            | Input::Locate { beat, tempo_bpm, running } => {
                let song = Song { beat, at_s: at.now_s, tempo_bpm, is_running: running };
                self.follow(at, song, sink);
            }
            // The controls have been turned before anything else of the frame.
            Input::Parameter(..) | Input::Bypass(_) => {}
            Input::Articulation(articulation) => self.choose(articulation),
            Input::Wish(wish) => {
                for place in self.lines_of(wish.channel) {
                    let own =
                        Channel::new(wish.channel).map(|played| self.channel_at(place, played));
                    let channel = own.map_or(wish.channel, Channel::number);
                    self.lines[place].wish(at.now_s, Wish { channel, ..wish });
                }
            }
            Input::Resync => self.resync(at, sink),
            Input::Thaw => {
                self.feedback.thaw();
                self.resync(at, sink);
            }
            Input::Panic => {
                self.outlet(at, sink).sender.lift_pedals();
                for place in 0..self.line_count {
                    self.panic(place, at, sink);
                }
            }
        }
    }

    fn receive_message(&mut self, at: At, mark: Mark, message: Message, sink: &mut impl Sink) {
        let Some(channel) = Channel::new(message.channel()).filter(|_| message.is_whole()) else {
            self.refused_messages += 1;
            return;
        };
        match message {
            Message::NoteOn { key, velocity, .. } => {
                self.note_on(at, mark, (channel, key), f64::from(velocity), sink);
            }
            Message::NoteOff { key, velocity, .. } => {
                self.note_off(at, (channel, key), f64::from(velocity), sink);
            }
            _ => self.receive_movement(at, mark, channel, message, sink),
        }
    }

    /// A key goes down. A key that chooses does not sound.
    fn note_on(
        &mut self,
        at: At,
        Mark { tag, is_live }: Mark,
        (channel, key): (Channel, u8),
        velocity: f64,
        sink: &mut impl Sink,
    ) {
        if let Some(articulation) = self.chosen_by(key) {
            self.choose(articulation);
            return;
        }
        let Some(key) = Key::new(key) else { return };
        let struck = Struck { channel, key, velocity, tag, is_live };
        if self.has_voices() {
            return self.strike_together(at, &[struck], sink);
        }
        let place = self.line_of(channel.number());
        self.with_line(place, at, sink, |line, moment, out| line.note_on(moment, struck, out));
    }

    fn note_off(
        &mut self,
        at: At,
        (channel, key): (Channel, u8),
        velocity: f64,
        sink: &mut impl Sink,
    ) {
        let Some(key) = Key::new(key) else { return };
        let (place, channel) = match self.has_voices() {
            true => self.holder_of(channel, key).unwrap_or((0, channel)),
            false => (self.line_of(channel.number()), channel),
        };
        let was_down = self.with_line(place, at, sink, |line, moment, out| {
            let was_down = line.note_off(moment, (channel, key), velocity, out);
            line.send_due_offs(moment.setup, at.now_s, out);
            was_down
        });
        if was_down {
            self.gestures[self.gesture_place(place)].note_off(at.now_s);
        }
        self.mind_company(at.now_s);
    }

    /// Anything but a note: the gesture, the player's bend, or what passes.
    fn receive_movement(
        &mut self,
        at: At,
        mark: Mark,
        channel: Channel,
        message: Message,
        sink: &mut impl Sink,
    ) {
        self.note_arrival();
        let recognised = self.feedback.hear(at.now_s, message);
        if recognised == Recognised::Echo {
            return;
        }
        let place = self.line_of(channel.number());
        if self.receive_gesture(at.now_s, message) {
            self.land(at.now_s);
            if !self.setup.patch.hand.source_passes {
                return;
            }
        } else if let Message::PitchBend { value, .. } = message
            && self.setup.bends
        {
            let centre = f64::from(BEND_CENTRE);
            for place in self.lines_of(channel.number()) {
                self.lines[place].bend((f64::from(value) - centre) / centre);
            }
            return;
        }
        if let Message::Controller { number: ALL_SOUND_OFF | ALL_NOTES_OFF, .. } = message {
            for place in self.lines_of(channel.number()) {
                let is_pedal_down = self.lines[place].is_pedal_down();
                self.panic(place, at, sink);
                // These let no pedal up (MIDI 1.0).
                self.lines[place].keep_pedal(is_pedal_down);
            }
        }
        self.with_line(place, at, sink, |_, moment, out| {
            out.sender.send(message, Origin::Passed(mark.tag));
            if let Recognised::Own(layer) = recognised {
                // It goes round again.
                out.sender.feedback.send(at.now_s, message, layer);
            }
            out.outputs.forget_address(moment.setup, message);
            out.passed(message);
        });
        if let Message::Controller { number: SUSTAIN_CONTROLLER, value, .. } = message {
            self.copy_pedal(at, channel, value, sink);
            for place in self.lines_of(channel.number()) {
                let is_down = value >= SWITCH_ON_MIN;
                self.lines[place].move_pedal(&self.setup, at.now_s, is_down, mark.is_live);
            }
            self.mind_company(at.now_s);
        }
        if let Message::Controller { number: RESET_ALL_CONTROLLERS, .. } = message {
            for place in self.lines_of(channel.number()) {
                self.reset_controllers(place, at.now_s, channel);
            }
        }
    }

    /// A message of the gesture's source, where it is one. What every note brings for itself goes
    /// to the line whose note it is.
    fn receive_gesture(&mut self, now_s: f64, message: Message) -> bool {
        let is_sounding = self.is_sounding();
        let mut is_anyones = false;
        for (place, gesture) in self.gestures[..self.gesture_count].iter_mut().enumerate() {
            let hand = &self.setup.patch.hand;
            let owner = match hand.source.is_per_note() {
                true if self.channel_count == 1 => newest_held(&self.lines[..self.line_count]),
                true => self.lines[place].newest_held(),
                false => None,
            };
            if Controller::is_source(hand, message, owner) {
                gesture.receive(hand, now_s, message, is_sounding);
                is_anyones = true;
            }
        }
        is_anyones
    }

    /// A value of the automated gesture, which is everyone's.
    pub(super) fn receive_recorded(&mut self, now_s: f64, value: f64, is_sounding: bool) {
        let hand = &self.setup.patch.hand;
        for gesture in &mut self.gestures[..self.gesture_count] {
            gesture.receive_recorded(hand, now_s, value, is_sounding);
        }
    }

    /// The articulation that a key chooses instead of sounding.
    pub(super) fn chosen_by(&self, key: u8) -> Option<u8> {
        self.setup.patch.hand.articulation_of(key)
    }

    /// Notes that begin from here on have this articulation.
    pub(super) fn choose(&mut self, articulation: u8) {
        if usize::from(articulation) < ARTICULATIONS_MAX {
            self.articulation = Some(articulation);
        }
    }

    /// Something has arrived since a jump.
    fn note_arrival(&mut self) {
        self.lines[..self.line_count].iter_mut().for_each(|line| line.note_arrival());
    }

    /// The first value after a jump, in silence: every layer takes it at once.
    fn land(&mut self, now_s: f64) {
        self.note_arrival();
        for place in 0..self.line_count {
            let gesture = &self.gestures[self.gesture_place(place)];
            if gesture.landed_at(now_s) && !self.lines[place].is_sounding() {
                self.lines[place].land(&self.setup, gesture.now());
            }
        }
    }

    /// RP-015: modulation 0, expression full, pressure 0, pedals up, bend centred. The receiver
    /// has done so too, so the outputs at those addresses are sent again.
    fn reset_controllers(&mut self, place: usize, now_s: f64, on: Channel) {
        let channel = on.number();
        let controller = |number, value| Message::Controller { channel, number, value };
        let resets = [
            controller(MODULATION_CONTROLLER, 0),
            controller(EXPRESSION_CONTROLLER, 127),
            Message::ChannelPressure { channel, value: 0 },
            Message::PitchBend { channel, value: BEND_CENTRE },
            // An output's pressure goes to whichever key owns the line.
            Message::PolyPressure { channel, key: 0, value: 0 },
        ];
        for message in resets {
            let way_out = self.way_out(place);
            self.outs[way_out].outputs.forget_address(&self.setup, message);
        }
        let hand = &self.setup.patch.hand;
        let is_sounding = self.is_sounding();
        let own = self.gesture_place(place);
        let gesture = &mut self.gestures[own];
        // A reset is no movement of the hand: an unknown gesture stays unknown.
        if gesture.raw().is_some()
            && let Some(message) = Controller::reset_message(hand, channel)
        {
            gesture.receive(hand, now_s, message, is_sounding);
        }
        self.lines[place].reset_controllers(&self.setup, now_s);
    }
}
