//! Undo and redo: what the player did, step by step.

use std::collections::VecDeque;

use super::edit::Edit;

/// Edits that can be undone; older ones are forgotten.
pub const STEPS_MAX: usize = 256;
// DESIGN 10: at least a hundred.
const _: () = assert!(STEPS_MAX >= 100);

/// The edits that were done and those that were undone.
#[derive(Clone, Debug, Default)]
pub struct History {
    done: VecDeque<Edit>,
    undone: Vec<Edit>,
}

impl History {
    /// Notes down what was done. What had been undone cannot be redone any more.
    pub fn did(&mut self, edit: Edit) {
        self.undone.clear();
        if self.done.len() == STEPS_MAX {
            self.done.pop_front();
        }
        self.done.push_back(edit);
    }

    /// Undoes the last edit: gives the edit that takes it back, to be applied to the text.
    pub fn undo(&mut self) -> Option<Edit> {
        let edit = self.done.pop_back()?;
        let inverse = edit.inverse();
        self.undone.push(edit);
        Some(inverse)
    }

    /// Redoes the edit that was undone last: gives it, to be applied to the text.
    pub fn redo(&mut self) -> Option<Edit> {
        let edit = self.undone.pop()?;
        self.done.push_back(edit.clone());
        Some(edit)
    }

    /// Redoes if `is_forward`, else undoes: the edit to be applied.
    pub fn step(&mut self, is_forward: bool) -> Option<Edit> {
        if is_forward { self.redo() } else { self.undo() }
    }

    /// Whether the step is complete with `last`, which has just been applied; a step may consist of
    /// several edits.
    pub fn is_step_whole(&self, is_forward: bool, last: &Edit) -> bool {
        match is_forward {
            true => self.undone.last().is_none_or(|next| !next.follows),
            false => !last.follows || self.done.is_empty(),
        }
    }

    /// What would be undone next, in a few words.
    pub fn last_done(&self) -> Option<&str> {
        self.done.back().map(|edit| edit.words.as_str())
    }

    /// What would be redone next, in a few words.
    pub fn last_undone(&self) -> Option<&str> {
        self.undone.last().map(|edit| edit.words.as_str())
    }
}
