//! What a section shows to those who look: present values, what was chosen, what was lost.

use super::Section;
use crate::line::Line;
use crate::patch::ARTICULATIONS_MAX;
use crate::view::{Losses, View};

impl Section {
    /// The present values of the first line, or of the leading voice, at the last tick played.
    /// Audio thread.
    pub fn view(&self) -> View {
        self.view_of(self.company.leader)
    }

    /// The present values of a line (0 up to the count of lines, else the last), at the last tick
    /// played. Audio thread.
    pub fn view_of(&self, line: usize) -> View {
        let place = line.min(self.line_count - 1);
        let (now_s, gesture) = (self.last_tick_s(), &self.gestures[self.gesture_place(place)]);
        let gesture = (gesture.now(), gesture.raw());
        let view = self.lines[place].view(&self.setup, gesture, self.articulation, now_s);
        View { frozen: self.feedback.frozen(), ..view }
    }

    /// How many lines play, 1..=8. Audio thread.
    pub fn line_count(&self) -> usize {
        self.line_count
    }

    /// The articulation that was chosen last, by its place in the common list; `None` until one
    /// is. What a project keeps, to be given back by [`Section::restore_articulation`]. Audio
    /// thread.
    pub fn articulation(&self) -> Option<u8> {
        self.articulation
    }

    /// As a project kept it; `None`, or a place beyond the list, takes a choice back. Notes that
    /// begin from here on have it. Audio thread.
    pub fn restore_articulation(&mut self, articulation: Option<u8>) {
        let is_known = |place: &u8| usize::from(*place) < ARTICULATIONS_MAX;
        self.articulation = articulation.filter(is_known);
    }

    /// What could not be done. Audio thread.
    pub fn losses(&self) -> Losses {
        let late = self.outs[..self.line_count].iter().map(|out| out.outputs.late_values());
        Losses {
            dropped_messages: self.sounding.dropped_messages,
            late_values: late.sum(),
            refused_messages: self.refused_messages,
            stolen_notes: self.playing().map(Line::stolen_notes).sum(),
        }
    }
}
