//! Everything that arrives at one frame, put in one order: offs, controllers, bend, pressure, notes.

use super::echo::Sound;
use super::event::{
    ALL_NOTES_OFF, ALL_SOUND_OFF, BEND_CENTRE, Input, Message, Origin, RESET_ALL_CONTROLLERS,
    SUSTAIN_CONTROLLER, SWITCH_ON_MIN, Sink, Timed,
};
use super::glide::Glide;
use super::hand::{EXPRESSION_CONTROLLER, MODULATION_CONTROLLER};
use super::line::{Line, Outlet, Song};
use super::patch::{ARTICULATIONS_MAX, Patch};
use super::strike::Struck;

/// The most events that are put in order together; a frame with more is ordered in parts.
pub const TOGETHER_MAX: usize = 128;

/// When it is: seconds since the anchor, and the next tick.
#[derive(Clone, Copy, Debug)]
pub(super) struct When {
    pub now_s: f64,
    pub tick: u64,
}

/// What an adapter says of a message.
#[derive(Clone, Copy)]
pub(super) struct Arrival {
    pub tag: u32,
    /// A hand plays it, not the song.
    pub is_live: bool,
}

/// The order within a frame. An off that would find nothing to end, or that a pedal of the same
/// frame comes before, has to wait for what it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Song,
    NoteOff,
    Controller,
    Bend,
    Pressure,
    NoteOn,
    LateOff,
}

const RANKS: [Rank; 7] = [
    Rank::Song,
    Rank::NoteOff,
    Rank::Controller,
    Rank::Bend,
    Rank::Pressure,
    Rank::NoteOn,
    Rank::LateOff,
];

impl Line {
    /// All events of one frame, at most [`TOGETHER_MAX`].
    pub fn receive_together(
        &mut self,
        when: When,
        events: &[Timed],
        patch: &Patch,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let mut ranks = [Rank::Song; TOGETHER_MAX];
        for (place, rank) in ranks.iter_mut().enumerate().take(events.len()) {
            *rank = self.rank(events, place);
        }
        for rank in RANKS {
            for (event, _) in events.iter().zip(&ranks).filter(|(_, own)| **own == rank) {
                self.receive(when, event, patch, out);
            }
        }
    }

    fn rank(&self, events: &[Timed], place: usize) -> Rank {
        let Some(message) = events[place].input.message() else { return Rank::Song };
        match message {
            Message::NoteOff { channel, key, .. } => {
                self.rank_of_off(&events[..place], channel, key)
            }
            Message::Controller { .. } | Message::Program { .. } => Rank::Controller,
            Message::PitchBend { .. } => Rank::Bend,
            Message::ChannelPressure { .. } | Message::PolyPressure { .. } => Rank::Pressure,
            Message::NoteOn { key, .. } if self.chosen_by(key).is_some() => Rank::Song,
            Message::NoteOn { .. } => Rank::NoteOn,
        }
    }

    fn rank_of_off(&self, before: &[Timed], channel: u8, key: u8) -> Rank {
        let is_off = |event: &&Timed| {
            matches!(event.input.message(),
            Some(Message::NoteOff { channel: c, key: k, .. }) if (c, k) == (channel, key))
        };
        let is_on = |event: &Timed| {
            matches!(event.input.message(),
            Some(Message::NoteOn { channel: c, key: k, .. }) if (c, k) == (channel, key))
        };
        let is_pedal = |event: &Timed| {
            matches!(event.input.message(),
            Some(Message::Controller { channel: c, number: SUSTAIN_CONTROLLER, .. })
                if c == channel)
        };
        let earlier_offs = before.iter().filter(is_off).count();
        let finds_none = earlier_offs >= self.notes.held_count(channel, key);
        if finds_none && before.iter().any(is_on) || before.iter().any(is_pedal) {
            Rank::LateOff
        } else {
            Rank::NoteOff
        }
    }

    fn receive(
        &mut self,
        when: When,
        event: &Timed,
        patch: &Patch,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        match event.input {
            Input::Midi(message) => {
                let arrival = Arrival { tag: event.tag, is_live: !self.song.is_running };
                self.receive_message(when, arrival, message, patch, out);
            }
            Input::Live(message) => {
                let arrival = Arrival { tag: event.tag, is_live: true };
                self.receive_message(when, arrival, message, patch, out);
            }
            Input::Gesture(value) => {
                let is_sounding = self.is_sounding();
                self.gesture.receive_recorded(when.now_s, value, is_sounding);
                self.land(when.now_s);
            }
            Input::Song { beat, tempo_bpm, running }
            | Input::Locate { beat, tempo_bpm, running } => {
                let at_s = when.now_s;
                let song = Song { beat, at_s, tempo_bpm, is_running: running };
                self.follow(at_s, song, out);
            }
            // The knobs have been turned before anything else of the frame.
            Input::Parameter(..) | Input::Bypass(_) => {}
            Input::Articulation(articulation) => self.choose(articulation),
            Input::Wish(wish) => self.wishes.add(when.now_s, wish),
            Input::Resync => self.resync(when, out),
            Input::Thaw => {
                out.way.wire.echo.thaw();
                self.resync(when, out);
            }
            Input::Panic => {
                out.way.lift_pedals();
                self.panic(patch, out);
            }
        }
    }

    fn receive_message(
        &mut self,
        when: When,
        arrival: Arrival,
        message: Message,
        patch: &Patch,
        out: &mut Outlet<'_, impl Sink>,
    ) {
        let (now_s, Arrival { tag, is_live }) = (when.now_s, arrival);
        match message {
            Message::NoteOn { channel, key, velocity } => {
                self.note_on(
                    now_s,
                    when.tick,
                    Struck { channel, key, velocity, tag, is_live },
                    out,
                );
                return;
            }
            Message::NoteOff { channel, key, velocity } => {
                self.note_off(now_s, channel, key, velocity);
                self.send_due_offs(now_s, out);
                return;
            }
            _ => self.note_arrival(),
        }
        let sound = out.way.wire.echo.hear(now_s, message);
        if sound == Sound::Echo {
            return;
        }
        let owner = self.notes.newest_held().map(|note| (note.channel, note.key));
        if self.gesture.hand.is_source(message, owner) {
            self.gesture.receive(now_s, message, self.is_sounding());
            self.land(now_s);
            if self.gesture.hand.consumes() {
                return;
            }
        } else if let Message::PitchBend { value, .. } = message
            && self.bends
        {
            let centre = f64::from(BEND_CENTRE);
            self.player_bend = Glide::still((f64::from(value) - centre) / centre);
            return;
        }
        if let Message::Controller { number: ALL_SOUND_OFF | ALL_NOTES_OFF, .. } = message {
            let is_pedal_down = self.is_pedal_down;
            self.panic(patch, out);
            // These let no pedal up (MIDI 1.0).
            self.is_pedal_down = is_pedal_down;
        }
        out.way.send(message, Origin::Passed(tag));
        if let Sound::Own(layer) = sound {
            // It goes round again.
            out.way.wire.echo.send(now_s, message, layer);
        }
        out.outputs.forget_address(message);
        self.passed(now_s, message);
        if let Message::Controller { channel, number, value } = message {
            match number {
                SUSTAIN_CONTROLLER => {
                    self.is_pedal_live = is_live;
                    self.pedal(now_s, value >= SWITCH_ON_MIN);
                }
                RESET_ALL_CONTROLLERS => self.reset_controllers(now_s, channel, out),
                _ => {}
            }
        }
    }

    /// The articulation that a key chooses instead of sounding.
    pub fn chosen_by(&self, key: u8) -> Option<u8> {
        self.gesture.hand.patch().articulation_of(key)
    }

    /// Notes that begin from here on have this articulation.
    pub fn choose(&mut self, articulation: u8) {
        if usize::from(articulation) < ARTICULATIONS_MAX {
            self.articulation = Some(articulation);
        }
    }

    /// The first value after a jump, in silence: every layer takes it at once.
    fn land(&mut self, now_s: f64) {
        self.note_arrival();
        if self.gesture.landed_at(now_s) && !self.is_sounding() {
            let x = self.gesture.now().x;
            self.style.jump(x);
            self.vibrato.jump(x, self.style.weights());
            self.dynamics.jump(x);
        }
    }

    /// RP-015: modulation 0, expression full, pressure 0, pedals up, bend centred. The receiver
    /// has done so too, so the outputs at those addresses are sent again.
    fn reset_controllers(&mut self, now_s: f64, channel: u8, out: &mut Outlet<'_, impl Sink>) {
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
            out.outputs.forget_address(message);
        }
        // A reset is no movement of the hand: an unknown gesture stays unknown.
        if self.gesture.raw().is_some()
            && let Some(message) = self.gesture.hand.reset_message(channel)
        {
            self.gesture.receive(now_s, message, self.is_sounding());
        }
        self.player_bend = Glide::still(0.0);
        self.tail.restore();
        self.pedal(now_s, false);
    }

    /// Every output's present value again, and the mode with the next note.
    pub fn resync(&mut self, when: When, out: &mut Outlet<'_, impl Sink>) {
        self.told.forget();
        out.outputs.resync(when.tick, &self.moment(when.now_s), &mut out.way);
    }

    /// The off of every key that sounds, keyswitches too; bend centred; outputs at rest.
    pub fn panic(&mut self, patch: &Patch, out: &mut Outlet<'_, impl Sink>) {
        let frozen = out.way.wire.echo.take_frozen();
        self.close(out);
        if !self.bends {
            out.way.centre(self.channel);
        }
        self.begin_again(patch);
        out.outputs.rest(&self.moment(0.0), &mut out.way);
        out.way.wire.echo.give_frozen(frozen);
    }

    /// A line at rest, which keeps the hand, the song and its counts.
    // Apart, so that its copy of a line stands on the stack only while it is needed.
    #[inline(never)]
    pub fn begin_again(&mut self, patch: &Patch) {
        let (song, note_count, stolen_notes) = (self.song, self.note_count, self.stolen_notes);
        let (gesture, channel, articulation) = (self.gesture, self.channel, self.articulation);
        let fresh = Line::load(patch, gesture);
        *self = Line { song, note_count, stolen_notes, channel, articulation, ..fresh };
    }

    /// Ends everything that sounds at the receiver.
    pub fn close(&mut self, out: &mut Outlet<'_, impl Sink>) {
        for note in self.notes.iter().filter(|note| note.is_sounding) {
            let origin = Origin::Note(note.tag);
            out.way.note_off(note.channel, note.key, note.off_velocity, origin);
        }
        self.told.release(&mut out.way);
    }

    pub fn is_sounding(&self) -> bool {
        self.phrase != super::Phrase::Rest
    }
}
