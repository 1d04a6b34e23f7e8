//! To which line each key of a moment belongs: what it goes on from, or which voice is free.

use super::matching::matching;
use super::{LINES_MAX, Section};
use crate::input::Key;
use crate::line::{Line, Struck};
use crate::math::grain::grain;
use crate::notes::pace::CHORD_S;
use crate::phrase::Phrase;

/// What a key that goes down does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Step {
    /// It is played by this line, as its next note.
    In(usize),
    /// It goes on from the first line's note in the second, which was free: that note stays.
    On(usize, usize),
    /// There is no voice for it: it sounds along with this line.
    Along(usize),
}

impl Step {
    /// The line in which the key sounds.
    pub fn line(self) -> usize {
        let (Step::In(line) | Step::On(_, line) | Step::Along(line)) = self;
        line
    }
}

impl Section {
    /// Says of each key what it does.
    pub(super) fn share_out(&self, now_s: f64, all: &[Struck], steps: &mut [Step; LINES_MAX]) {
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
            let is_taken = grain(now_s - self.company.taken_s[place]) <= CHORD_S;
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
}
