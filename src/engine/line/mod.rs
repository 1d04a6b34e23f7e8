//! One line: the notes and layers of one voice, and what they come to at each tick.

mod join;
mod note_off;
mod note_on;
mod passing;
mod voice;
mod why;

use crate::gesture::conditioning::GestureNow;
use crate::input::song::Song;
use crate::input::{Channel, Key, NoteWish, Wish};
use crate::layers::dynamics::Dynamics;
use crate::layers::fade::Fade;
use crate::layers::legato::Legato;
use crate::layers::onset::{ASKING_PER_S, NoteChange};
use crate::layers::style::Style;
use crate::layers::tail::Tail;
use crate::layers::transition::Transition;
use crate::layers::values::Values;
use crate::layers::vibrato::Vibrato;
use crate::math::glide::Glide;
use crate::mode::Mode;
use crate::notes::held::{HeldNotes, Note};
use crate::notes::pace::Pace;
use crate::notes::wishes::Wishes;
use crate::output::portamento::PortamentoNote;
use crate::output::switching::NoteManner;
use crate::patch::setup::{SWING_TICKS_MAX, Setup};
use crate::phrase::Phrase;
use crate::reason::Reason;

pub use note_on::Struck;

/// The most bytes that one line remembers.
pub const LINE_BYTES_MAX: usize = 10 * 1024;
const _: () = assert!(size_of::<Line>() <= LINE_BYTES_MAX);

/// A bend goes home over this time: 30 ms after a stop the last of it has gone out.
const HOME_S: f64 = 0.025;

/// What a line is played with at one moment; it is the section's.
#[derive(Clone, Copy)]
pub struct Moment<'a> {
    /// The settings.
    pub setup: &'a Setup,
    /// The gesture of the last tick.
    pub gesture: GestureNow,
    /// Where the song stands.
    pub song: &'a Song,
    /// The articulation that was chosen last.
    pub articulation: Option<u8>,
    /// Seconds since the anchor.
    pub now_s: f64,
    /// The next tick.
    pub tick: u64,
    /// The shared outputs follow this line; a line with its own outputs always leads.
    pub leads: bool,
    /// What a shared bend still has of the voice that led before, cents.
    pub carried_cents: f64,
    /// A join may end the note that it leaves, as long as that is held.
    pub may_cut: bool,
}

impl Moment<'_> {
    /// What is asked of every note that begins at this place of the song.
    fn stretch_wish(&self) -> NoteWish {
        let retouches = &self.setup.patch.retouches;
        match retouches.all() {
            [] => NoteWish::NONE,
            _ => retouches.note_wish(self.song.beat_at(self.now_s)),
        }
    }
}

/// Everything that one line remembers. It holds no settings: each method is given the setup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Which line of the section it is, from 0.
    number: u8,
    channel: Channel,
    notes: HeldNotes,
    pace: Pace,
    legato: Legato,
    style: Style,
    vibrato: Vibrato,
    dynamics: Dynamics,
    tail: Tail,
    /// The note that owns the line, or owned it last, and since when.
    owner: Option<Note>,
    owned_since_s: f64,
    phrase: Phrase,
    /// The last key was released here and is being drawn out.
    released_s: f64,
    /// The last off of the line went out.
    silent_since_s: f64,
    is_pedal_down: bool,
    /// A hand, or rather a foot, holds it, not the song.
    is_pedal_live: bool,
    /// −1..=1 of the bend range; a stop takes it home.
    player_bend: Glide,
    note_count: u64,
    wishes: Wishes,
    stolen_notes: u64,
    /// How the vibrato last saw a note begin.
    change: NoteChange,
    is_double_stop_open: bool,
    /// Other voices of the section sound on its channel.
    is_in_company: bool,
    tail_reason: Reason,
    /// The song has jumped and no note has come yet, and something has arrived since then.
    awaits_first: bool,
    has_news: bool,
    /// Old settings that still count.
    fade: Fade,
    /// The way from the note before, and why it is as it is.
    transition: Transition,
    transition_reason: Reason,
}

impl Line {
    /// A line at rest under a gesture.
    pub fn at_rest(setup: &Setup, number: u8, x: f64) -> Line {
        let style = Style::at(&setup.patch.vibrato, x);
        Line {
            number,
            channel: setup.channel_of(number),
            notes: HeldNotes::NONE,
            pace: Pace::START,
            legato: Legato::NONE,
            style,
            vibrato: Vibrato::at(setup, number, x, style.weights()),
            dynamics: Dynamics::at(&setup.patch.dynamics, x),
            tail: Tail::FULL,
            owner: None,
            owned_since_s: f64::NEG_INFINITY,
            phrase: Phrase::Rest,
            released_s: 0.0,
            silent_since_s: f64::NEG_INFINITY,
            is_pedal_down: false,
            is_pedal_live: false,
            player_bend: Glide::still(0.0),
            note_count: 0,
            wishes: Wishes::NONE,
            stolen_notes: 0,
            change: NoteChange::REST,
            is_double_stop_open: false,
            is_in_company: false,
            tail_reason: Reason::Rest,
            awaits_first: false,
            has_news: false,
            fade: Fade::NONE,
            transition: Transition::NONE,
            transition_reason: Reason::NotJoined,
        }
    }

    /// The same line at rest, which keeps its channel and its counts.
    // Apart, so that its copy of a line stands on the stack only while it is needed.
    #[inline(never)]
    pub fn begin_again(&mut self, setup: &Setup, x: f64) {
        let Line { note_count, stolen_notes, channel, number, .. } = *self;
        let fresh = Line::at_rest(setup, number, x);
        *self = Line { note_count, stolen_notes, channel, ..fresh };
    }

    /// Other settings between notes: the line keeps its channel and begins anew.
    pub fn exchange_at_rest(&mut self, setup: &Setup, x: f64) {
        let channel = self.channel;
        *self = Line { channel, ..Line::at_rest(setup, self.number, x) };
    }

    /// Other settings in the midst of a note: keys, pace and gesture go on, and what goes out
    /// moves away from what it was (`fade`).
    pub fn exchange(&mut self, now_s: f64, setup: &Setup, x: f64, fade: Fade) {
        let old = *self;
        let fresh = Line::at_rest(setup, old.number, x);
        *self = Line {
            wishes: Wishes::NONE,
            style: fresh.style,
            vibrato: fresh.vibrato,
            dynamics: fresh.dynamics,
            legato: fresh.legato,
            is_double_stop_open: false,
            awaits_first: false,
            fade,
            ..old
        };
        self.tail.niente.limit();
        self.legato.take_over(&old.legato);
        self.vibrato.take_over(&setup.patch.vibrato, &old.vibrato);
        if let Some(owner) = self.owner {
            self.change.is_forced_open = setup.patch.strings.is_forced_open(owner.key.number());
            self.change.register = self.register(setup, owner.key);
            self.replace_hand(now_s, setup);
        }
    }

    /// Works out what was put off, before somebody asks more than once or the settings change.
    #[inline]
    pub fn catch_up(&mut self, setup: &Setup) {
        self.dynamics.catch_up(&setup.patch.dynamics);
    }

    /// Controls have been turned in the midst of playing.
    pub fn turn(&mut self, setup: &Setup) {
        self.dynamics.turn(&setup.patch.dynamics);
        self.style.turn(&setup.patch.vibrato);
        self.vibrato.turn_controls();
    }

    /// The song jumps here, at time 0: tail, phase and pace are gone.
    pub fn jump(&mut self, setup: &Setup, gesture: &GestureNow) {
        self.begin_again(setup, gesture.x);
        self.tail.niente.settle(gesture);
        self.awaits_first = true;
    }

    /// One tick. The layers' values are worked out when an output asks ([`Line::values`]); only what
    /// moves from tick to tick (the level's slew and accent, the wait for silence, the oscillator
    /// at its own steps) takes its step here.
    #[inline(always)]
    pub fn tick(&mut self, setup: &Setup, gesture: &GestureNow, now_s: f64, tick: u64) {
        let patch = &setup.patch;
        let is_held = self.phrase == Phrase::Sounding;
        if is_held && gesture.rise_per_s > ASKING_PER_S {
            self.ask(setup, gesture, now_s);
        }
        if swings_at(setup, tick) {
            self.style.step(&patch.vibrato, setup.swing_s, gesture.manner);
            self.vibrato.step(setup, now_s, gesture.x, &self.style);
        }
        self.dynamics.tick(setup, now_s, gesture.x);
        self.tail.tick(now_s, gesture, is_held, setup.may_fall_silent());
    }

    /// The gesture rises on a held note.
    fn ask(&mut self, setup: &Setup, gesture: &GestureNow, now_s: f64) {
        if let Some(owner) = self.owner {
            let began_at_age_s = gesture.rise_began_s - owner.on_s;
            self.vibrato.onset.ask(&setup.patch.vibrato, now_s, began_at_age_s);
        }
    }

    /// A bit-exact fixed point: another tick would neither change nor send anything.
    pub fn is_settled(&self, setup: &Setup, gesture: &GestureNow, now_s: f64) -> bool {
        let is_held = self.phrase == Phrase::Sounding;
        self.notes.is_settled()
            && self.vibrato.is_settled(&setup.patch.vibrato, now_s, gesture.x, &self.style)
            && self.style.is_settled(gesture.manner)
            && self.dynamics.is_settled(gesture.x)
            && self.tail.is_settled(now_s, gesture, is_held, setup.may_fall_silent())
            && self.player_bend.is_done(now_s)
            && !self.fade.is_on(now_s)
            && !self.transition.is_on(now_s)
    }

    /// The layers' values.
    pub fn values<'a>(&'a self, setup: &'a Setup, gesture: &GestureNow, now_s: f64) -> Values<'a> {
        let is_at_rest = self.phrase == Phrase::Rest;
        Values {
            setup,
            now_s,
            channel: self.channel,
            key: if is_at_rest { None } else { self.owner.map(|note| note.key) },
            gesture: gesture.x,
            rise_per_s: gesture.rise_per_s,
            dynamics: &self.dynamics,
            tail: &self.tail,
            vibrato: &self.vibrato,
            style: &self.style,
            transition: &self.transition,
            player_bend: &self.player_bend,
            fade: &self.fade,
        }
    }

    /// The first value after a jump has come while nothing sounds: every layer takes it at once.
    pub fn land(&mut self, setup: &Setup, gesture: &GestureNow) {
        let x = gesture.x;
        self.tail.niente.settle(gesture);
        self.style.jump(&setup.patch.vibrato, x);
        self.vibrato.jump(setup, x, self.style.weights());
        self.dynamics.jump(&setup.patch.dynamics, x);
    }

    /// Something has arrived since the jump, so that the first note tells everything again.
    pub fn note_arrival(&mut self) {
        self.has_news |= self.awaits_first;
    }

    /// Another wish for a note that begins now.
    pub fn wish(&mut self, now_s: f64, wish: Wish) {
        self.wishes.add(now_s, wish);
    }

    /// The player bends, −1..=1 of the bend range.
    pub fn bend(&mut self, share: f64) {
        self.player_bend = Glide::still(share);
    }

    /// All controllers are reset (RP-015).
    pub fn reset_controllers(&mut self, setup: &Setup, now_s: f64) {
        self.player_bend = Glide::still(0.0);
        self.tail.restore();
        self.pedal(setup, now_s, false);
    }

    /// What the receiver is told with a note.
    pub(super) fn manner(
        &self,
        mode: Mode,
        from_key: Option<u8>,
        articulation: Option<u8>,
        glide: PortamentoNote,
    ) -> NoteManner {
        NoteManner { mode, articulation, from_key, channel: self.channel, glide }
    }

    /// What the receiver is told again of the note that sounds, if one does.
    pub fn sounding_manner(&self, articulation: Option<u8>) -> Option<NoteManner> {
        let sounds = self.phrase == Phrase::Sounding;
        let glide = PortamentoNote::NONE;
        sounds.then(|| self.manner(self.legato.mode(), None, articulation, glide))
    }

    /// The line's channel.
    pub fn channel(&self) -> Channel {
        self.channel
    }

    /// A note of it sounds, or its end is drawn out, or a drone lies under it.
    pub fn is_sounding(&self) -> bool {
        self.phrase != Phrase::Rest || self.notes.newest_down().is_some()
    }

    /// Channel and key of the newest key that is down.
    pub fn newest_held(&self) -> Option<(u8, u8)> {
        let note = self.notes.newest_down()?;
        Some((note.channel.number(), note.key.number()))
    }

    /// How many times a key is down.
    pub fn held_count(&self, channel: Channel, key: Key) -> usize {
        self.notes.held_count(channel, key)
    }

    /// Notes that were ended early.
    pub fn stolen_notes(&self) -> u64 {
        self.stolen_notes
    }
}

/// Style and swing take a step.
#[inline]
fn swings_at(setup: &Setup, tick: u64) -> bool {
    // To divide by what is known beforehand is a multiplication.
    match setup.swing_ticks {
        SWING_TICKS_MAX => tick.is_multiple_of(SWING_TICKS_MAX),
        swing_ticks => tick.is_multiple_of(swing_ticks),
    }
}
