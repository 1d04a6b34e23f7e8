//! Follows what is asked of stretches of the song, wherever the song stands.

use super::Section;
use crate::patch::retouch::Retouched;

impl Section {
    /// What is asked for at this place of the song goes into the settings; false if that is what
    /// they say already. The lines have not heard of it.
    pub(super) fn retouch_settings(&mut self, beat: f64) -> bool {
        let retouched = self.setup.patch.retouches.at(beat);
        let is_news = self.controls.retouch(retouched);
        if is_news {
            self.setup.turn(&self.controls);
        }
        is_news
    }

    /// The same, and the lines move there; and when to look next.
    pub(super) fn retouch(&mut self, now_s: f64) {
        let retouches = &self.setup.patch.retouches;
        if retouches.all().is_empty() && self.controls.retouched() == Retouched::NONE {
            self.retouch_due_s = f64::INFINITY;
            return;
        }
        let beat = self.song.beat_at(now_s);
        let next = retouches.next_change(beat).filter(|_| self.song.is_running);
        self.retouch_due_s = next.map_or(f64::INFINITY, |next| self.song.time_of(next).max(now_s));
        if self.controls.retouched() != retouches.at(beat) {
            self.turn_by(|section| {
                section.retouch_settings(beat);
            });
        }
    }

    /// Settings change under the lines, which move there from where they stand.
    pub(super) fn turn_by(&mut self, change: impl FnOnce(&mut Section)) {
        self.lines.iter_mut().for_each(|line| line.catch_up(&self.setup));
        change(self);
        for line in &mut self.lines {
            line.turn(&self.setup);
        }
    }
}
