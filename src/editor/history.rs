//! What the player did, step by step, so that each step can be taken back and made again.

use std::collections::VecDeque;

use super::edit::Edit;

/// Steps that can be taken back; older ones are forgotten.
pub const STEPS_MAX: usize = 256;
const _: () = assert!(STEPS_MAX >= 100);

/// The steps, those done and those taken back.
#[derive(Clone, Debug, Default)]
pub struct History {
    done: VecDeque<Edit>,
    undone: Vec<Edit>,
}

impl History {
    /// Something new was done; what had been taken back is gone.
    pub fn did(&mut self, edit: Edit) {
        self.undone.clear();
        if self.done.len() == STEPS_MAX {
            self.done.pop_front();
        }
        self.done.push_back(edit);
    }

    /// The step to be taken back next: its inverse, to be applied.
    pub fn undo(&mut self) -> Option<Edit> {
        let edit = self.done.pop_back()?;
        let inverse = edit.inverse();
        self.undone.push(edit);
        Some(inverse)
    }

    /// The step to be made again next, to be applied.
    pub fn redo(&mut self) -> Option<Edit> {
        let edit = self.undone.pop()?;
        self.done.push_back(edit.clone());
        Some(edit)
    }

    /// The edit to be applied next, back or forward.
    pub fn step(&mut self, is_forward: bool) -> Option<Edit> {
        if is_forward { self.redo() } else { self.undo() }
    }

    /// Whether a step ends with `last`, which has just been applied: some are of several edits.
    pub fn is_step_whole(&self, is_forward: bool, last: &Edit) -> bool {
        match is_forward {
            true => self.undone.last().is_none_or(|next| !next.follows),
            false => !last.follows || self.done.is_empty(),
        }
    }

    /// What would be taken back, in a few words.
    pub fn last_done(&self) -> Option<&str> {
        self.done.back().map(|edit| edit.words.as_str())
    }

    /// What would be made again, in a few words.
    pub fn last_undone(&self) -> Option<&str> {
        self.undone.last().map(|edit| edit.words.as_str())
    }
}
