//! Several voices of one channel: which line each key belongs to, and who leads where all share one way out.

use super::share_out::Step;
use super::{At, LINES_MAX, Section};
use crate::input::message::SUSTAIN_CONTROLLER;
use crate::input::{Channel, Key, Message};
use crate::line::{Line, Struck};
use crate::math::grain::{SAME_S, is_reached};
use crate::notes::held::Note;
use crate::output::outlet::Outlet;
use crate::output::{Origin, Sink};
use crate::patch::{LeadingVoice, VOICES_MAX, VoiceKind};
use crate::phrase::Phrase;

const _: () = assert!(LINES_MAX == VOICES_MAX);

impl Section {
    /// The notes of one channel are shared out to several lines.
    pub(super) fn has_voices(&self) -> bool {
        self.channel_count == 1 && self.setup.patch.voices.kind != VoiceKind::Line
    }

    /// Each is a player on a channel of his own, who keeps his number.
    pub(super) fn has_players(&self) -> bool {
        self.setup.patch.voices.kind == VoiceKind::Divisi && !self.shares_way_out
    }

    /// All of them go out on one channel.
    pub(super) fn shares_channel(&self) -> bool {
        self.channel_count == 1 && self.setup.patch.voices.share_channel()
    }

    /// The shared outputs follow this line.
    pub(super) fn leads(&self, place: usize) -> bool {
        !self.shares_way_out || place == self.company.leader
    }

    /// Keys go down together, at most [`LINES_MAX`]. Which line each belongs to is found for all of
    /// them before any sounds; they sound in the order in which they came.
    pub(super) fn strike_together(&mut self, at: At, all: &[Struck], sink: &mut impl Sink) {
        let mut steps = [Step::Along(0); LINES_MAX];
        self.share_out(at.now_s, all, &mut steps);
        // What one key ends on a shared channel another may yet join.
        let joins = steps.map(|step| self.could_join(at.now_s, step));
        for (place, (struck, step)) in all.iter().zip(steps).enumerate() {
            let is_first = !steps[..place].iter().any(|earlier| earlier.line() == step.line());
            let join = if is_first { joins[place] } else { self.could_join(at.now_s, step) };
            self.strike_voice(at, *struck, (step, join), sink);
        }
    }

    fn strike_voice(
        &mut self,
        at: At,
        struck: Struck,
        (step, join): (Step, Option<Note>),
        sink: &mut impl Sink,
    ) {
        let place = step.line();
        let is_foreign = self.setup.patch.notes.is_foreign(struck.key.number());
        let channel =
            if is_foreign { struck.channel } else { self.channel_at(place, struck.channel) };
        let struck = Struck { channel, ..struck };
        if is_foreign || matches!(step, Step::Along(_)) {
            let place = if is_foreign { 0 } else { place };
            return self.with_line(place, at, sink, |line, moment, out| {
                line.sound_along(moment, struck, out);
            });
        }
        self.make_room(at, place, struck, sink);
        let join = match step {
            Step::On(from, _) => self.go_on(at.now_s, from, place),
            _ => join,
        };
        let others = self.has_company(place);
        if self.shares_way_out {
            let before = self.company.leader;
            self.follow_new(place, struck.key);
            if others && before != self.company.leader {
                let off_cents = self.lines[before].off_cents(&self.setup, at.now_s);
                let own_cents = self.lines[place].swing_cents(&self.setup);
                self.company.carried_cents = off_cents - own_cents;
            }
        }
        self.lines[place].keep_company(&self.setup, at.now_s, others);
        self.may_cut = matches!(step, Step::On(..)) || !self.has_free_voice(place);
        self.with_line(place, at, sink, |line, moment, out| {
            line.note_on_from(moment, struck, join, out);
        });
        (self.may_cut, self.company.carried_cents) = (true, 0.0);
        if self.shares_way_out {
            let channel = self.lines[place].channel();
            self.lines[..self.line_count].iter_mut().for_each(|line| line.follow(channel));
        }
        self.mind_company(at.now_s);
    }

    /// The note that a key joins in its line.
    fn could_join(&self, now_s: f64, step: Step) -> Option<Note> {
        self.lines[step.line()].could_join(&self.setup, now_s)
    }

    /// The free line goes on from the other's note.
    fn go_on(&mut self, now_s: f64, from: usize, to: usize) -> Option<Note> {
        self.company.taken_s[from] = now_s;
        self.company.taken_s[to] = f64::NEG_INFINITY;
        let mut left = self.lines[from];
        let (old, own) = (left.number(), self.lines[to].number());
        let note = self.lines[to].go_on_from(now_s, &mut left);
        if self.has_players() {
            self.lines[to].rename(&self.setup, own);
        } else {
            self.lines[to].rename(&self.setup, old);
            left.rename(&self.setup, own);
        }
        self.lines[from] = left;
        note
    }

    /// On a shared channel the key ends where another voice draws it out, and so do all drawn-out
    /// ends if nothing else sounds: the expression comes back.
    fn make_room(&mut self, at: At, place: usize, struck: Struck, sink: &mut impl Sink) {
        if !self.shares_way_out {
            return;
        }
        let sounds = self.playing().any(|line| line.phrase() == Phrase::Sounding);
        for other in (0..self.line_count).filter(|other| *other != place) {
            self.with_line(other, at, sink, |line, moment, out| {
                line.end_key(struck.channel, struck.key, out);
                if !sounds {
                    line.end_tail(moment.setup, moment.now_s, out);
                }
            });
        }
    }

    /// A line that a key which is held may be left for.
    fn has_free_voice(&self, place: usize) -> bool {
        let is_held = self.lines[place].is_owner_held();
        let is_free = |line: &Line| !line.is_sounding();
        is_held && self.playing().any(is_free)
    }

    /// Every line learns whether others sound on its channel.
    pub(super) fn mind_company(&mut self, now_s: f64) {
        if !self.has_voices() {
            return;
        }
        self.find_leader();
        for place in 0..self.line_count {
            let others = self.has_company(place);
            self.lines[place].keep_company(&self.setup, now_s, others);
        }
    }

    fn has_company(&self, place: usize) -> bool {
        let others = self.lines[..self.line_count].iter().enumerate();
        self.shares_way_out
            && others.filter(|(other, _)| *other != place).any(|(_, line)| line.is_sounding())
    }

    /// The outputs follow the leading voice of those that are held, else of those that are drawn out;
    /// in silence they stay with the last.
    fn find_leader(&mut self) {
        let newest = self.setup.patch.voices.leading == LeadingVoice::Newest;
        let rank = |place: &usize| {
            let line = &self.lines[*place];
            let key = line.last_key().map_or(0, Key::number);
            (line.phrase() == Phrase::Sounding, if newest { line.last_on_s() } else { key.into() })
        };
        let sounding = (0..self.line_count).filter(|place| self.lines[*place].is_sounding());
        let best = |best: usize, next: usize| if rank(&next) > rank(&best) { next } else { best };
        if let Some(leader) = sounding.reduce(best) {
            self.company.leader = leader;
        }
    }

    /// A key is about to sound in a line: does that lead?
    fn follow_new(&mut self, place: usize, key: Key) {
        self.find_leader();
        let leader = &self.lines[self.company.leader];
        let is_led = leader.phrase() == Phrase::Sounding
            && self.company.leader != place
            && self.setup.patch.voices.leading == LeadingVoice::Highest
            && leader.last_key().is_some_and(|own| own > key);
        if !is_led {
            self.company.leader = place;
        }
    }

    /// A pedal that passes holds the voices on channels of their own too.
    pub(super) fn copy_pedal(&mut self, at: At, on: Channel, value: u8, sink: &mut impl Sink) {
        if !self.has_voices() || self.shares_way_out {
            return;
        }
        for place in 0..self.line_count {
            let channel = self.channel_at(place, on).number();
            if channel != on.number() {
                let pedal = Message::Controller { channel, number: SUSTAIN_CONTROLLER, value };
                self.with_line(place, at, sink, |_, _, out| out.sender.send(pedal, Origin::Owed));
            }
        }
    }

    /// The channel on which a line sounds what is played on `played`.
    pub(super) fn channel_at(&self, place: usize, played: Channel) -> Channel {
        match self.has_voices() {
            true => self.setup.patch.voices.channel(place).unwrap_or(played),
            false => played,
        }
    }

    /// The line that holds a key that was played on a channel, and the one on which it sounds.
    pub(super) fn holder_of(&self, played: Channel, key: Key) -> Option<(usize, Channel)> {
        let holds = |it: &(usize, Channel)| self.lines[it.0].held_count(it.1, key) > 0;
        let mut all = (0..self.line_count).map(|place| (place, self.channel_at(place, played)));
        // Another player's key keeps its channel.
        all.find(holds).or_else(|| Some((0, played)).filter(holds))
    }

    /// One tick of voices that share a channel: all lines go on, and the outputs follow the leader.
    // Apart, so that the tick of a line pays nothing for it.
    #[inline(never)]
    #[cold]
    pub(super) fn play_shared(&mut self, at: At, sink: &mut impl Sink) {
        let At { frame, now_s, tick } = at;
        let by_s = now_s + SAME_S;
        let (setup, gesture) = (&self.setup, self.gestures[0].now());
        let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
        let mut out = Outlet::open(&mut self.outs[0], sounding, feedback, (frame, now_s), sink);
        let mut has_ended = false;
        for line in &mut self.lines[..self.line_count] {
            if line.owes_off_by(by_s) {
                line.send_due_offs(setup, now_s, &mut out);
                has_ended = true;
            }
            line.tick(setup, gesture, now_s, tick);
        }
        out.switching.tick(now_s, &mut out.sender);
        if has_ended {
            self.mind_company(now_s);
        }
        self.tell_leader(at, sink);
    }

    fn tell_leader(&mut self, at: At, sink: &mut impl Sink) {
        let At { frame, now_s, tick } = at;
        let (setup, gesture) = (&self.setup, self.gestures[0].now());
        let line = &mut self.lines[self.company.leader];
        let (sounding, feedback) = (&mut self.sounding, &mut self.feedback);
        let mut out = Outlet::open(&mut self.outs[0], sounding, feedback, (frame, now_s), sink);
        line.catch_up(setup);
        let values = line.values(setup, gesture, now_s);
        if is_reached(now_s, *out.resync_due_s) {
            out.tell_all_again(tick, &values, line.sounding_manner(self.articulation));
        }
        if out.outputs.is_due(tick) {
            out.outputs.send_due(tick, &values, &mut out.sender);
        }
    }
}
