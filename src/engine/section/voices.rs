//! Several voices of one channel: which line each key belongs to, and who leads where all share one way out.

use super::matching::matching;
use super::{At, LINES_MAX, Section};
use crate::input::{Channel, Key};
use crate::line::{Line, Struck};
use crate::math::grain::{SAME_S, grain, is_reached};
use crate::notes::held::Note;
use crate::notes::pace::CHORD_S;
use crate::output::Sink;
use crate::output::outlet::Outlet;
use crate::patch::{LeadingVoice, VOICES_MAX, VoiceKind};
use crate::phrase::Phrase;

const _: () = assert!(LINES_MAX == VOICES_MAX);

/// What a section knows of its voices besides what their lines know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Voices {
    /// The line that the outputs follow on a shared channel.
    pub leader: usize,
    /// What the shared bend still has of the one before, while another begins to lead, cents.
    pub carried_cents: f64,
    /// When a new key last went on from each line's.
    taken_s: [f64; LINES_MAX],
}

impl Voices {
    pub const NONE: Voices =
        Voices { leader: 0, carried_cents: 0.0, taken_s: [f64::NEG_INFINITY; LINES_MAX] };
}

/// What a key that goes down does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    /// It is played by this line, as its next note.
    In(usize),
    /// It goes on from the first line's note in the second, which was free: that note stays.
    On(usize, usize),
    /// There is no voice for it: it sounds along with this line.
    Along(usize),
}

impl Step {
    /// The line in which the key sounds.
    fn line(self) -> usize {
        let (Step::In(line) | Step::On(_, line) | Step::Along(line)) = self;
        line
    }
}

impl Section {
    /// The notes of one channel are shared out to several lines.
    pub(super) fn has_voices(&self) -> bool {
        self.channel_count == 1 && self.setup.patch.voices.kind != VoiceKind::Line
    }

    /// Each is a player on a channel of his own, who keeps his number.
    fn has_players(&self) -> bool {
        self.setup.patch.voices.kind == VoiceKind::Divisi && !self.shares_way_out
    }

    /// All of them go out on one channel.
    pub(super) fn shares_channel(&self) -> bool {
        self.channel_count == 1 && self.setup.patch.voices.share_channel()
    }

    /// The shared outputs follow this line.
    pub(super) fn leads(&self, place: usize) -> bool {
        !self.shares_way_out || place == self.voices.leader
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

    /// Says of each key what it does.
    fn share_out(&self, now_s: f64, all: &[Struck], steps: &mut [Step; LINES_MAX]) {
        let mut order: [usize; LINES_MAX] = core::array::from_fn(|place| place);
        let order = &mut order[..all.len()];
        order.sort_unstable_by_key(|&place| (all[place].key, place));
        // A key that is down already is struck again where it is.
        let again = |struck: &Struck| Some(self.holder_of(struck.channel, struck.key)?.0);
        let mut keys = [0; LINES_MAX];
        let mut owners = [0; LINES_MAX];
        let mut count = 0;
        for &place in order.iter() {
            let is_twin = count > 0 && keys[count - 1] == all[place].key.number();
            if again(&all[place]).is_none() && !is_twin {
                (keys[count], owners[count]) = (all[place].key.number(), place);
                count += 1;
            }
        }
        let (lines, notes, note_count) = self.joinable(now_s);
        let matched = matching(&keys[..count], &notes[..note_count]);
        let mut taken = 0_u32;
        matched.iter().flatten().for_each(|note| taken |= 1 << lines[*note]);
        // Those that go on from no key need a line most; from above, as the voices are counted.
        for goes_on in [false, true] {
            for found in (0..count).rev().filter(|found| matched[*found].is_some() == goes_on) {
                let (key, from) = (keys[found], matched[found].map(|note| lines[note]));
                let step = self.step(key, from, taken);
                if let Step::In(line) | Step::On(_, line) = step {
                    taken |= 1 << line;
                }
                steps[owners[found]] = step;
            }
        }
        for (place, struck) in all.iter().enumerate() {
            if let Some(line) = again(struck) {
                steps[place] = Step::In(line);
            } else if let Some(twin) =
                all[..place].iter().position(|earlier| earlier.key == struck.key)
            {
                steps[place] = match steps[twin] {
                    Step::On(_, line) => Step::In(line),
                    step => step,
                };
            }
        }
    }

    /// The lines whose note a new key may go on from, and these notes' keys, lowest first.
    fn joinable(&self, now_s: f64) -> ([usize; LINES_MAX], [u8; LINES_MAX], usize) {
        let (mut lines, mut keys, mut count) = ([0; LINES_MAX], [0; LINES_MAX], 0);
        for (place, line) in self.lines[..self.line_count].iter().enumerate() {
            let is_taken = grain(now_s - self.voices.taken_s[place]) <= CHORD_S;
            let Some(note) = line.joinable(now_s).filter(|_| !is_taken) else { continue };
            let key = note.key.number();
            let above = keys[..count].iter().position(|own| *own > key).unwrap_or(count);
            lines.copy_within(above..count, above + 1);
            keys.copy_within(above..count, above + 1);
            (lines[above], keys[above]) = (place, key);
            count += 1;
        }
        (lines, keys, count)
    }

    /// What one key does that goes on from a line's note, or from none; bit n of `taken` is set where
    /// line n is another's.
    fn step(&self, key: u8, from: Option<usize>, taken: u32) -> Step {
        let is_free = |place: &usize| taken >> place & 1 == 0;
        let at_rest = |place: &usize| self.lines[*place].phrase() == Phrase::Rest;
        let let_go = |place: &usize| !self.lines[*place].is_sounding();
        let places = || (0..self.line_count).filter(is_free);
        let far = |place: usize| {
            self.lines[place].last_key().map_or(0, |last| last.number().abs_diff(key))
        };
        if let Some(from) = from {
            let free = places().filter(|place| at_rest(place) && let_go(place));
            let free = free.min_by_key(|place| (far(*place), self.lines[*place].number()));
            // A player on a channel of his own leaves it for nobody's key that is nearer to him.
            let goes = |free: &usize| !self.has_players() || far(*free) < far(from);
            return match free.filter(goes).filter(|_| self.lines[from].is_owner_held()) {
                Some(free) => Step::On(from, free),
                None => Step::In(from),
            };
        }
        let is_up = |place: &usize| !self.lines[*place].is_owner_held();
        let rank = |place: &usize| {
            let number = self.lines[*place].number();
            (!at_rest(place), self.crossings(number, key), far(*place), number)
        };
        let fresh = places().filter(is_up).min_by_key(rank).map(Step::In);
        fresh.unwrap_or_else(|| Step::Along(self.nearest(key)))
    }

    /// How many voices that sound a voice of this number would cross with a key: the first is the
    /// highest.
    fn crossings(&self, number: u8, key: u8) -> usize {
        let crosses = |line: &&Line| {
            let other = line.last_key().map_or(key, Key::number);
            (line.number() < number && other < key) || (line.number() > number && other > key)
        };
        self.playing().filter(|line| line.is_owner_held()).filter(crosses).count()
    }

    fn nearest(&self, key: u8) -> usize {
        let far = |place: &usize| {
            self.lines[*place].last_key().map_or(u8::MAX, |last| last.number().abs_diff(key))
        };
        (0..self.line_count).min_by_key(far).unwrap_or(0)
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
            let before = self.voices.leader;
            self.follow_new(place, struck.key);
            if others && before != self.voices.leader {
                let off_cents = self.lines[before].off_cents(&self.setup, at.now_s);
                let own_cents = self.lines[place].swing_cents(&self.setup);
                self.voices.carried_cents = off_cents - own_cents;
            }
        }
        self.lines[place].keep_company(&self.setup, at.now_s, others);
        self.may_cut = matches!(step, Step::On(..)) || !self.has_free_voice(place);
        self.with_line(place, at, sink, |line, moment, out| {
            line.note_on_from(moment, struck, join, out);
        });
        (self.may_cut, self.voices.carried_cents) = (true, 0.0);
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
        self.voices.taken_s[from] = now_s;
        self.voices.taken_s[to] = f64::NEG_INFINITY;
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
            self.voices.leader = leader;
        }
    }

    /// A key is about to sound in a line: does that lead?
    fn follow_new(&mut self, place: usize, key: Key) {
        self.find_leader();
        let leader = &self.lines[self.voices.leader];
        let is_led = leader.phrase() == Phrase::Sounding
            && self.voices.leader != place
            && self.setup.patch.voices.leading == LeadingVoice::Highest
            && leader.last_key().is_some_and(|own| own > key);
        if !is_led {
            self.voices.leader = place;
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
        let line = &mut self.lines[self.voices.leader];
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
