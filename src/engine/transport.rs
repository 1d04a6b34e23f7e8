//! The song stops, jumps or loops, a sound is chosen, a file is changed: nothing hangs, all is told.

use super::Phrase;
use super::event::{Message, Origin, Sink};
use super::fade::Fade;
use super::line::{Line, Outlet, Song};
use super::patch::Patch;
use super::receive::When;

/// A bend goes home over this time: 30 ms after a stop the last of it has gone out.
const HOME_S: f64 = 0.025;
/// A receiver that changes its sound is told everything again after this time.
const SOUND_CHANGE_S: f64 = 0.050;
/// MIDI 1.0 controllers 0 and 32 choose the bank.
const BANKS: [u8; 2] = [0, 32];

impl Line {
    /// Where the song stands. From running to standing is a stop.
    pub fn follow(&mut self, now_s: f64, song: Song, out: &mut Outlet<'_, impl Sink>) {
        let has_stopped = self.song.is_running && !song.is_running;
        self.song = song;
        if has_stopped {
            self.stop(now_s, out);
        }
    }

    /// The notes that the song began end; keys that a hand holds stay; the bend goes home.
    fn stop(&mut self, now_s: f64, out: &mut Outlet<'_, impl Sink>) {
        let owner = self.owner;
        for note in self.notes.iter_mut().filter(|note| !note.is_live) {
            if note.is_sounding {
                let origin = Origin::Note(note.tag);
                out.way.note_off(note.channel, note.key, note.off_velocity, origin);
            }
            (note.is_sounding, note.is_held) = (false, false);
        }
        self.notes.forget_done();
        self.notes.schedule();
        if !self.is_pedal_live {
            out.way.lift_pedals();
            self.is_pedal_down = false;
        }
        if self.notes.any_held() {
            if let Some(owner) = owner.filter(|owner| !owner.is_live) {
                self.give_back(now_s, owner);
            }
        } else if !self.notes.any_sounding() && !self.is_pedalled() {
            if self.phrase != Phrase::Rest {
                self.fall_silent(now_s);
            }
            self.vibrato.onset.release_within(now_s, HOME_S);
            self.player_bend.aim(now_s, 0.0, HOME_S);
            self.told.close(&mut out.way);
        }
    }

    /// Ends everything that sounds, keyswitches and pedals too, and centres what is bent.
    pub fn flush(&mut self, out: &mut Outlet<'_, impl Sink>) {
        self.close(out);
        out.way.lift_pedals();
        out.way.close_all();
    }

    /// The line at time 0 of another place in the song: tail, phase and pace are gone, the
    /// gesture stands at its last value.
    pub fn jump(&mut self, patch: &Patch) {
        self.gesture.settle();
        self.begin_again(patch);
        self.awaits_first = true;
    }

    /// Something has arrived since the jump, so that the first note tells everything again.
    pub fn note_arrival(&mut self) {
        self.has_news |= self.awaits_first;
    }

    /// A note is about to sound: the first after a jump resyncs if anything has arrived.
    pub fn resync_first(&mut self, when: When, out: &mut Outlet<'_, impl Sink>) {
        if self.awaits_first && self.has_news {
            self.resync(when, out);
        }
        (self.awaits_first, self.has_news) = (false, false);
    }

    /// A message that has passed may change the receiver's sound, which then forgets its values.
    pub fn passed(&mut self, now_s: f64, message: Message) {
        let chooses = match message {
            Message::Program { .. } => true,
            Message::Controller { number, .. } => BANKS.contains(&number),
            _ => false,
        };
        if chooses {
            self.resync_due_s = now_s + SOUND_CHANGE_S;
        }
    }

    /// The receiver has had time to change its sound: every value again, and the present mode.
    #[cold]
    pub fn tell_all_again(&mut self, when: When, out: &mut Outlet<'_, impl Sink>) {
        self.resync_due_s = f64::INFINITY;
        out.outputs.resync(when.tick, &self.moment(when.now_s), &mut out.way);
        // Between notes the mode waits for the note that needs it.
        if self.phrase == Phrase::Sounding {
            let telling = self.telling(self.legato.mode(), None);
            self.told.tell_again(when.now_s, telling, &mut out.way);
        } else {
            self.told.forget();
        }
    }

    /// Other settings in the midst of a note: keys, pace and gesture go on, and what goes out
    /// moves from the old settings' values to the new ones'.
    pub fn exchange(&mut self, now_s: f64, patch: &Patch) {
        let old = *self;
        let mut gesture = old.gesture;
        gesture.adopt_in_note(now_s, &patch.hand);
        *self = Line {
            notes: old.notes,
            pace: old.pace,
            owner: old.owner,
            owned_since_s: old.owned_since_s,
            phrase: old.phrase,
            released_s: old.released_s,
            silent_since_s: old.silent_since_s,
            is_pedal_down: old.is_pedal_down,
            is_pedal_live: old.is_pedal_live,
            player_bend: old.player_bend,
            song: old.song,
            note_count: old.note_count,
            stolen_notes: old.stolen_notes,
            tail_reason: old.tail_reason,
            change: old.change,
            channel: old.channel,
            articulation: old.articulation,
            fade: Fade::from(now_s, &old.moment(now_s)),
            resync_due_s: now_s,
            ..Line::load(patch, gesture)
        };
        self.legato.take_over(&old.legato);
        self.vibrato.take_over(&old.vibrato);
        self.tail.take_over(&old.tail);
        self.told.take_over(now_s, &old.told);
        if let Some(owner) = self.owner {
            self.change.is_forced_open = self.strings.is_forced_open(owner.key);
            self.change.register = self.register(owner.key);
            self.replace_hand(now_s);
        }
    }
}
