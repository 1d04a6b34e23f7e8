//! One line from the hand to the receiver: the whole data path of a tick, read downwards.

use super::dynamics::Dynamics;
use super::event::{Layer, Sink};
use super::fade::Fade;
use super::gesture::Gesture;
use super::glide::Glide;
use super::legato::Legato;
use super::moment::Moment;
use super::notes::{Note, Notes};
use super::onset::{Change, FAST_PACE_S};
use super::output::{Outputs, SWING_TICKS_MAX};
use super::pace::Pace;
use super::patch::{Patch, StringsPatch};
use super::reason::Reason;
use super::receive::When;
use super::style::Style;
use super::tail::Tail;
use super::told::Told;
use super::vibrato::Vibrato;
use super::wire::Way;
use super::wish::Wishes;
use super::{Phrase, View};

/// The way out: the outputs, and what carries their messages.
pub(super) struct Outlet<'a, S: Sink> {
    pub outputs: &'a mut Outputs,
    pub way: Way<'a, S>,
}

/// Where the song stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Song {
    pub beat: f64,
    pub at_s: f64,
    pub tempo_bpm: f64,
    pub is_running: bool,
}

impl Song {
    /// Quarter notes since its start.
    pub fn beat_at(&self, now_s: f64) -> f64 {
        let moved_s = if self.is_running { now_s - self.at_s } else { 0.0 };
        self.beat + moved_s * self.tempo_bpm / 60.0
    }

    /// The same song with `now_s` as time 0.
    pub fn anchored_at(self, now_s: f64) -> Song {
        Song { beat: self.beat_at(now_s), at_s: 0.0, ..self }
    }
}

/// Everything that one line remembers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    pub gesture: Gesture,
    pub notes: Notes,
    pub pace: Pace,
    pub legato: Legato,
    pub style: Style,
    /// Style and swing take a step every so many ticks: as often as the pitch goes out.
    pub swing_ticks: u64,
    pub vibrato: Vibrato,
    pub dynamics: Dynamics,
    pub tail: Tail,
    pub told: Told,
    /// The articulation that was chosen last.
    pub articulation: Option<u8>,
    pub strings: StringsPatch,
    pub register_per_semitone: f64,
    pub join_gap_s: f64,
    pub span_db: f64,
    pub carries_expression: bool,
    /// The performed vibrato goes to the bend wheel, and so does the player's bend.
    pub bends: bool,
    pub channel: u8,
    /// The note that owns the line, or owned it last.
    pub owner: Option<Note>,
    /// Since when the owner has owned it.
    pub owned_since_s: f64,
    pub phrase: Phrase,
    /// The key was released here and is being drawn out.
    pub released_s: f64,
    /// The last off of the line went out.
    pub silent_since_s: f64,
    pub is_pedal_down: bool,
    /// A hand, or rather a foot, holds it, not the song.
    pub is_pedal_live: bool,
    /// −1..=1 of the bend range; a stop takes it home.
    pub player_bend: Glide,
    pub song: Song,
    pub note_count: u64,
    pub wishes: Wishes,
    pub stolen_notes: u64,
    /// How the vibrato last saw a note begin.
    pub change: Change,
    pub is_double_stop_open: bool,
    pub tail_reason: Reason,
    /// The song has jumped and no note has come yet.
    pub awaits_first: bool,
    /// Something has arrived since then.
    pub has_news: bool,
    /// The receiver is told everything again.
    pub resync_due_s: f64,
    /// Old settings that still count.
    pub fade: Fade,
}

impl Line {
    /// A line at rest under a hand.
    pub fn load(patch: &Patch, gesture: Gesture) -> Line {
        let x = gesture.now().x;
        let style = Style::load(&patch.vibrato, x);
        let swing_ticks = patch.target.swing_ticks();
        Line {
            gesture,
            notes: Notes::NONE,
            pace: Pace::START,
            legato: Legato::load(&patch.legato, &patch.strings),
            style,
            swing_ticks,
            vibrato: Vibrato::load(&patch.vibrato, swing_ticks, patch.seed, x, style.weights()),
            dynamics: Dynamics::load(&patch.dynamics, x),
            tail: Tail::load(&patch.tail),
            told: Told::load(&patch.target),
            articulation: None,
            strings: patch.strings,
            register_per_semitone: patch.vibrato.register_per_semitone,
            join_gap_s: patch.legato.join_gap_s,
            span_db: patch.dynamics.span_db,
            carries_expression: !patch.target.has(Layer::Expression),
            bends: patch.target.bends(),
            channel: patch.home_channel,
            owner: None,
            owned_since_s: f64::NEG_INFINITY,
            phrase: Phrase::Rest,
            released_s: 0.0,
            silent_since_s: f64::NEG_INFINITY,
            is_pedal_down: false,
            is_pedal_live: false,
            player_bend: Glide::still(0.0),
            song: Song { beat: 0.0, at_s: 0.0, tempo_bpm: 120.0, is_running: false },
            note_count: 0,
            wishes: Wishes::NONE,
            stolen_notes: 0,
            change: Change::REST,
            is_double_stop_open: false,
            tail_reason: Reason::Rest,
            awaits_first: false,
            has_news: false,
            resync_due_s: f64::INFINITY,
            fade: Fade::NONE,
        }
    }

    /// What the knobs change, in the midst of playing.
    pub fn turn(&mut self, patch: &Patch) {
        self.gesture.weigh(patch.hand.weight);
        self.dynamics.bound(patch.dynamics.floor, patch.dynamics.ceiling);
        self.style.hold(patch.vibrato.style_position);
        self.vibrato.scale(&patch.vibrato, patch.seed);
        self.tail.stretch(patch.tail.tail_s);
    }

    /// One tick of the whole line.
    #[inline]
    pub fn tick(&mut self, now_s: f64, tick: u64, out: &mut Outlet<'_, impl Sink>) {
        let gesture = self.gesture.tick(now_s);
        self.send_due_offs(now_s, out);
        self.told.tick(now_s, &mut out.way);
        let is_held = self.phrase == Phrase::Sounding;
        if is_held {
            self.vibrato.onset.ask(now_s, gesture.rise_per_s);
        }
        if self.swings_at(tick) {
            self.style.step(self.vibrato.step_s(), gesture.manner);
            self.vibrato.step(now_s, gesture.x, &self.style);
        }
        self.dynamics.tick(now_s, gesture.x);
        self.tail.tick(now_s, gesture, is_held);
        if now_s >= self.resync_due_s {
            self.tell_all_again(When { now_s, tick }, out);
        }
        if out.outputs.is_due(tick) {
            out.outputs.send_due(tick, &self.moment(now_s), &mut out.way);
        }
    }

    /// Style and swing take a step.
    #[inline]
    fn swings_at(&self, tick: u64) -> bool {
        // To divide by what is known beforehand is a multiplication.
        match self.swing_ticks {
            SWING_TICKS_MAX => tick.is_multiple_of(SWING_TICKS_MAX),
            swing_ticks => tick.is_multiple_of(swing_ticks),
        }
    }

    /// A bit-exact fixed point: another tick would neither change nor send anything.
    pub fn is_settled(&self, now_s: f64) -> bool {
        let gesture = self.gesture.now();
        self.notes.is_settled()
            && self.vibrato.is_settled(now_s, gesture.x, &self.style)
            && self.gesture.is_settled()
            && self.style.is_settled(gesture.manner)
            && self.dynamics.is_settled(gesture.x)
            && self.tail.is_settled(now_s, gesture, self.phrase == Phrase::Sounding)
            && self.told.is_settled()
            && self.player_bend.is_done(now_s)
            && self.resync_due_s == f64::INFINITY
            && !self.fade.is_on(now_s)
    }

    /// The layers' values.
    pub fn moment(&self, now_s: f64) -> Moment<'_> {
        Moment {
            channel: self.channel,
            key: self.owner.filter(|_| self.phrase != Phrase::Rest).map(|note| note.key),
            gesture: self.gesture.now().x,
            level: self.dynamics.level(),
            span_db: self.span_db,
            now_s,
            tail: &self.tail,
            carries_expression: self.carries_expression,
            player_bend: self.player_bend.at(now_s),
            vibrato: &self.vibrato,
            style: &self.style,
            fade: self.fade.is_on(now_s).then_some(&self.fade),
        }
    }

    /// Present values, for those who look.
    pub fn view(&self, now_s: f64) -> View {
        let moment = self.moment(now_s);
        let swing = self.vibrato.seen(now_s);
        View {
            time_s: now_s,
            key: moment.key,
            raw: self.gesture.raw(),
            gesture: moment.gesture,
            dynamics: moment.level,
            expression: moment.value(Layer::Expression),
            width_cents: swing.width_cents,
            rate_hz: swing.rate_hz,
            pitch_cents: swing.pitch_cents,
            weights: *self.style.weights(),
            mode: self.legato.mode(),
            phrase: self.phrase,
            send: moment.value(Layer::Send),
            vibrato_reason: self.vibrato_reason(now_s),
            legato_reason: self.legato.reason(),
            tail_reason: self.tail_reason,
            articulation: self.told.played(self.articulation),
            frozen: None,
            refused_wish: self
                .owner
                .and_then(|owner| owner.wish)
                .and_then(|wish| wish.why_not_open(&self.strings)),
        }
    }

    /// The owner has no vibrato by a wish.
    pub fn wished_still(&self) -> Option<Reason> {
        self.owner?.wish?.why_still(&self.strings)
    }

    fn vibrato_reason(&self, now_s: f64) -> Reason {
        let is_swinging = self.vibrato.onset.factor(now_s).envelope > 0.0;
        if self.phrase == Phrase::Rest {
            Reason::Rest
        } else if self.change.is_forced_open {
            Reason::ForcedOpen
        } else if let Some(reason) = self.wished_still() {
            reason
        } else if self.is_double_stop_open {
            Reason::DoubleStopOnOpenString
        } else if self.change.is_open {
            Reason::OpenString
        } else if self.vibrato.asked_width_cents() == 0.0 {
            if self.gesture.now().is_known { Reason::StyleIsPlain } else { Reason::GestureUnknown }
        } else if is_swinging {
            Reason::VibratoSounds
        } else if self.change.is_trill {
            Reason::Trill
        } else if self.change.pace_s < FAST_PACE_S {
            Reason::FastRun
        } else {
            Reason::NoteTooYoung
        }
    }
}
