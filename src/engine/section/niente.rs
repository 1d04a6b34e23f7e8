//! From where in the song on the hand may take the sound to nothing: many a take begins with a wheel at
//! 0 that nobody meant.

use super::Section;
use crate::input::song::Song;
use crate::layers::niente::FULL;

/// Places in a quarter note, as fine as chance tells them apart.
pub const NIENTE_PLACES_PER_BEAT: f64 = 48.0;
/// Nowhere yet.
pub(super) const NOWHERE: i32 = i32::MAX;

impl Section {
    /// The earliest place of the song, in 48ths of a quarter note, at which the gesture has come
    /// above a tenth of its range; `None` until it has. Before it a hand at rest is no silence. What
    /// a project keeps, to be given back by [`Section::restore_niente`], so that the song sounds
    /// alike each time. Audio thread.
    pub fn niente_from(&self) -> Option<i32> {
        (self.niente_from < NOWHERE).then_some(self.niente_from)
    }

    /// As a project kept it; `None` forgets it. It counts from the next tick on. Audio
    /// thread.
    pub fn restore_niente(&mut self, place: Option<i32>) {
        self.niente_from = place.unwrap_or(NOWHERE);
        self.setup.niente_is_open = false;
        self.is_resting = false;
    }

    /// The song is here, and perhaps begins to run: then what a hand did before it does not count.
    pub(super) fn place_song(&mut self, now_s: f64, song: Song) {
        let begins = song.is_running && !self.song.is_running;
        self.song = song;
        self.retouch(now_s);
        self.setup.niente_is_open &= !begins;
        self.open_niente(now_s);
    }

    /// Looks whether a silence may begin from here on. While the song runs, only from the earliest
    /// place on at which the hand has come up; while it stands, from the moment it has.
    pub(super) fn open_niente(&mut self, now_s: f64) {
        if self.setup.niente_is_open {
            return;
        }
        let is_up = self.has_come_up();
        if !self.song.is_running {
            self.setup.niente_is_open = is_up;
            return;
        }
        if !is_up && self.niente_from == NOWHERE {
            return;
        }
        let here = place(self.song.beat_at(now_s));
        if is_up {
            self.niente_from = self.niente_from.min(here);
        }
        self.setup.niente_is_open = here >= self.niente_from;
    }

    fn has_come_up(&self) -> bool {
        let hand = &self.setup.patch.hand;
        let gestures = &self.gestures[..self.gesture_count];
        gestures.iter().any(|gesture| gesture.has_come_above(hand, FULL))
    }

    /// Some tick will find that silences may begin.
    pub(super) fn awaits_niente(&self) -> bool {
        let may_come = self.song.is_running && self.niente_from < NOWHERE;
        !self.setup.niente_is_open && (may_come || self.has_come_up())
    }
}

/// The place of a beat, below [`NOWHERE`].
fn place(beat: f64) -> i32 {
    // A number that is none, or beyond the ends, becomes the nearest one.
    (libm::floor(beat * NIENTE_PLACES_PER_BEAT + 1e-6) as i32).min(NOWHERE - 1)
}
