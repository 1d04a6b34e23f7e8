//! What is asked of a note, whatever the gesture says.

use crate::mode::Mode;

/// What is asked of a note, whatever the gesture says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoteWish {
    /// The style's place in the instrument's list, if one is asked for.
    pub style: Option<u8>,
    /// No vibrato at all.
    pub is_still: bool,
    /// On an open string.
    pub is_open: bool,
    /// How it joins the note before.
    pub legato: Option<LegatoWish>,
}

/// How a note shall join the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LegatoWish {
    /// In this mode; a fresh note cannot be asked for, and the gesture chooses.
    Mode(Mode),
    /// As the gesture has it, but without a slide.
    NoSlide,
}

impl NoteWish {
    /// Nothing is asked for.
    pub const NONE: NoteWish =
        NoteWish { style: None, is_still: false, is_open: false, legato: None };

    /// This wish, and of the other one what this one leaves open. A style is no wish for a note
    /// that shall be still.
    #[must_use]
    pub fn over(self, other: NoteWish) -> NoteWish {
        NoteWish {
            style: self.style.or(other.style),
            is_still: self.is_still || other.is_still && self.style.is_none(),
            is_open: self.is_open || other.is_open,
            legato: self.legato.or(other.legato),
        }
    }

    /// The mode that is asked for.
    pub const fn mode(self) -> Option<Mode> {
        match self.legato {
            Some(LegatoWish::Mode(mode)) => Some(mode),
            _ => None,
        }
    }
}

/// A wish for the note of this key that begins at the wish's own frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wish {
    /// 0..=15.
    pub channel: u8,
    /// 0..=127.
    pub key: u8,
    /// What is asked for.
    pub asked: NoteWish,
}
