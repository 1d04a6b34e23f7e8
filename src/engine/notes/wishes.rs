//! The wishes that wait for their notes, and what of them an instrument cannot do.

use crate::input::{NoteWish, Wish};
use crate::patch::StringsPatch;
use crate::reason::Reason;

/// The most wishes that wait for the notes of one frame; one more takes the oldest's place.
pub const WISHES_MAX: usize = 8;

/// Why the note has no vibrato; `None` if the wish does not say so, or cannot be had.
pub fn why_still(wish: &Wish, strings: &StringsPatch) -> Option<Reason> {
    match wish {
        Wish { asked: NoteWish { is_still: true, .. }, .. } => Some(Reason::WishStill),
        Wish { asked: NoteWish { is_open: true, .. }, key, .. } if strings.has_open(*key) => {
            Some(Reason::WishOpen)
        }
        _ => None,
    }
}

/// Why the wish for an open string cannot be had.
pub fn why_not_open(wish: &Wish, strings: &StringsPatch) -> Option<Reason> {
    (wish.asked.is_open && !strings.has_open(wish.key)).then_some(Reason::WishNoOpenString)
}

/// Wishes for the notes of one moment, however its events are handed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wishes {
    /// When; at any other time there are none.
    at_s: f64,
    waiting: [Option<Wish>; WISHES_MAX],
    next: usize,
}

impl Wishes {
    /// Nothing is asked for.
    pub const NONE: Wishes =
        Wishes { at_s: f64::NEG_INFINITY, waiting: [None; WISHES_MAX], next: 0 };

    /// Another wish.
    pub fn add(&mut self, now_s: f64, wish: Wish) {
        if self.at_s != now_s {
            *self = Wishes { at_s: now_s, ..Wishes::NONE };
        }
        self.waiting[self.next] = Some(wish);
        self.next = (self.next + 1) % WISHES_MAX;
    }

    /// The wish for a note that begins now.
    pub fn take(&mut self, now_s: f64, channel: u8, key: u8) -> Option<Wish> {
        if self.at_s != now_s {
            return None;
        }
        let is_own = |wish: &Wish| (wish.channel, wish.key) == (channel, key);
        self.waiting.iter_mut().find(|wish| wish.as_ref().is_some_and(is_own))?.take()
    }
}
