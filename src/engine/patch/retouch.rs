//! Stretches of the song in which something is asked for: softer, less vibrato, a longer ending.
//!
//! What is asked for goes with the place in the song alone, so that a loop, a jump and a start in
//! the middle sound as the whole does.

use crate::input::wish::NoteWish;
use crate::math::glide::smooth_step;

/// The most changes of all stretches together.
pub const RETOUCHES_MAX: usize = 128;
/// A note belongs to a stretch if it begins no more than this before it, quarter notes: hands are not
/// on the grid, and a third of a sixteenth is nearer to it than to any other note.
const NEAR_BEATS: f64 = 1.0 / 12.0;

/// Something asked of a stretch of the song.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Retouch {
    /// Where it is in full force, quarter notes since the start of the song.
    pub from_beat: f64,
    /// Where nothing of it is left, above `from_beat`.
    pub to_beat: f64,
    /// It comes over so many quarter notes before `from_beat` and goes over as many before
    /// `to_beat`, so that each note, inside and outside, begins as it shall be.
    pub fade_beats: f64,
    /// What is asked for.
    pub change: Change,
}

/// What is asked of a stretch, beside what the gesture says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// Factor of the vibrato's width, 0..=2.
    Width(f64),
    /// Added to the vibrato's rate, Hz, −3..=3.
    Rate(f64),
    /// Added to the level, decibels, −24..=24.
    Level(f64),
    /// Factor of the longest tail, 0..=2.
    Tail(f64),
    /// Asked of each note that begins in the stretch.
    Notes(NoteWish),
}

/// All that is asked of stretches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RetouchPatch {
    retouches: [Retouch; RETOUCHES_MAX],
    count: usize,
}

/// What the stretches come to at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Retouched {
    /// Factor of the vibrato's width.
    pub width: f64,
    /// Added to its rate, Hz.
    pub rate_hz: f64,
    /// Added to the level, decibels.
    pub level_db: f64,
    /// Factor of the longest tail.
    pub tail: f64,
}

impl Retouched {
    /// Nothing is asked for.
    pub const NONE: Retouched = Retouched { width: 1.0, rate_hz: 0.0, level_db: 0.0, tail: 1.0 };

    fn add(&mut self, change: Change, share: f64) {
        match change {
            Change::Width(factor) => self.width *= 1.0 + share * (factor - 1.0),
            Change::Rate(rate_hz) => self.rate_hz += share * rate_hz,
            Change::Level(level_db) => self.level_db += share * level_db,
            Change::Tail(factor) => self.tail *= 1.0 + share * (factor - 1.0),
            Change::Notes(_) => {}
        }
    }
}

impl Retouch {
    /// It is for the note that begins at this place.
    pub fn means_note_at(&self, beat: f64) -> bool {
        (self.from_beat - NEAR_BEATS..self.to_beat - NEAR_BEATS).contains(&beat)
    }

    /// How much of it counts at a place, 0..=1.
    fn share_at(&self, beat: f64) -> f64 {
        let fade_beats = self.fade_beats.min(self.to_beat - self.from_beat);
        if beat < self.from_beat {
            risen(beat - (self.from_beat - fade_beats), fade_beats)
        } else {
            1.0 - risen(beat - (self.to_beat - fade_beats), fade_beats)
        }
    }

    /// Where its share begins and ceases to move.
    fn edges(&self) -> [f64; 4] {
        let fade_beats = self.fade_beats.min(self.to_beat - self.from_beat);
        [self.from_beat - fade_beats, self.from_beat, self.to_beat - fade_beats, self.to_beat]
    }

    fn moves_at(&self, beat: f64) -> bool {
        let [begin, full, leave, end] = self.edges();
        (begin..full).contains(&beat) || (leave..end).contains(&beat)
    }
}

/// The share of a rise over `fade_beats` after so many beats of it, 0..=1.
fn risen(beats: f64, fade_beats: f64) -> f64 {
    if beats >= fade_beats {
        1.0
    } else if beats <= 0.0 {
        0.0
    } else {
        smooth_step(beats / fade_beats)
    }
}

impl RetouchPatch {
    /// Nothing is asked for.
    pub const NONE: RetouchPatch = RetouchPatch {
        retouches: [Retouch {
            from_beat: 0.0,
            to_beat: 0.0,
            fade_beats: 0.0,
            change: Change::Notes(NoteWish::NONE),
        }; RETOUCHES_MAX],
        count: 0,
    };

    /// Another one; false if there is no room.
    pub fn add(&mut self, retouch: Retouch) -> bool {
        let Some(place) = self.retouches.get_mut(self.count) else { return false };
        *place = retouch;
        self.count += 1;
        true
    }

    /// All of them, in the order in which they were added.
    pub fn all(&self) -> &[Retouch] {
        &self.retouches[..self.count]
    }

    /// What they come to at a place of the song.
    pub(crate) fn at(&self, beat: f64) -> Retouched {
        let mut whole = Retouched::NONE;
        for retouch in self.all() {
            let share = retouch.share_at(beat);
            if share > 0.0 {
                whole.add(retouch.change, share);
            }
        }
        whole
    }

    /// The next place after this one at which they come to something else; `beat` itself while
    /// they move there. None behind the last.
    pub(crate) fn next_change(&self, beat: f64) -> Option<f64> {
        let mut next = None;
        for retouch in self.all().iter().filter(|it| !matches!(it.change, Change::Notes(_))) {
            if retouch.moves_at(beat) {
                return Some(beat);
            }
            let later = retouch.edges().into_iter().find(|edge| *edge > beat);
            next = match (next, later) {
                (Some(next), Some(later)) => Some(later.min(next)),
                (next, later) => next.or(later),
            };
        }
        next
    }

    /// What is asked of a note that begins here; of two that say the same the later one counts.
    pub(crate) fn note_wish(&self, beat: f64) -> NoteWish {
        let mut asked = NoteWish::NONE;
        for retouch in self.all().iter().filter(|it| it.means_note_at(beat)) {
            if let Change::Notes(wish) = retouch.change {
                asked = wish.over(asked);
            }
        }
        asked
    }
}

#[cfg(test)]
mod tests {
    use super::{Change, Retouch, RetouchPatch, Retouched};

    fn level(from_beat: f64, to_beat: f64, fade_beats: f64, level_db: f64) -> Retouch {
        Retouch { from_beat, to_beat, fade_beats, change: Change::Level(level_db) }
    }

    #[track_caller]
    fn check(retouches: &[Retouch], beat: f64, level_db: f64) {
        let mut patch = RetouchPatch::NONE;
        assert!(retouches.iter().all(|it| patch.add(*it)));
        assert_eq!(patch.at(beat), Retouched { level_db, ..Retouched::NONE }, "at {beat}");
    }

    #[test]
    fn a_stretch_is_whole_where_it_begins_and_gone_where_it_ends() {
        let one = [level(4.0, 8.0, 0.5, -3.0)];
        for (beat, level_db) in [(3.5, 0.0), (3.75, -1.5), (4.0, -3.0), (7.5, -3.0)] {
            check(&one, beat, level_db);
        }
        for (beat, level_db) in [(7.75, -1.5), (8.0, 0.0), (100.0, 0.0), (-1.0, 0.0)] {
            check(&one, beat, level_db);
        }
        // One that is shorter than its fade fades over its own length.
        check(&[level(4.0, 4.5, 2.0, -4.0)], 3.75, -2.0);
        check(&[level(4.0, 4.5, 2.0, -4.0)], 3.5, 0.0);
        // Without a fade it is there at once.
        check(&[level(4.0, 8.0, 0.0, -3.0)], 3.999, 0.0);
        check(&[level(4.0, 8.0, 0.0, -3.0)], 4.0, -3.0);
        check(&[level(4.0, 8.0, 0.0, -3.0)], 8.0, 0.0);
    }

    #[test]
    fn stretches_add_up() {
        check(&[level(0.0, 8.0, 0.0, -3.0), level(4.0, 6.0, 0.0, 1.0)], 5.0, -2.0);
        check(&[level(0.0, 8.0, 0.0, -3.0), level(4.0, 6.0, 0.0, 1.0)], 6.0, -3.0);
    }

    #[test]
    fn what_stands_still_says_until_where() {
        let mut patch = RetouchPatch::NONE;
        assert_eq!(patch.next_change(0.0), None);
        assert!(patch.add(level(4.0, 8.0, 0.5, -3.0)));
        for (beat, next) in [(0.0, 3.5), (3.5, 3.5), (3.9, 3.9), (4.0, 7.5), (7.6, 7.6)] {
            assert_eq!(patch.next_change(beat), Some(next), "at {beat}");
        }
        assert_eq!(patch.next_change(8.0), None);
    }
}
