//! What is asked of one note, whatever the gesture says, and what came of it.

use super::patch::StringsPatch;
use super::reason::Reason;

/// The most wishes that wait for the notes of one frame; one more takes the oldest's place.
pub const WISHES_MAX: usize = 8;

/// A wish for the note of this key that begins at the wish's own frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wish {
    /// 0..=15.
    pub channel: u8,
    /// 0..=127.
    pub key: u8,
    /// The style's place in the instrument's list, if one is asked for.
    pub style: Option<u8>,
    /// No vibrato at all.
    pub is_still: bool,
    /// On an open string.
    pub is_open: bool,
    /// A slide into the note, or none.
    pub slide: Option<bool>,
}

impl Wish {
    /// Nothing is asked of this key.
    pub const fn none(channel: u8, key: u8) -> Wish {
        Wish { channel, key, style: None, is_still: false, is_open: false, slide: None }
    }

    /// Why the note has no vibrato; `None` if the wish does not say so, or cannot be had.
    pub(super) fn why_still(&self, strings: &StringsPatch) -> Option<Reason> {
        match self {
            Wish { is_still: true, .. } => Some(Reason::WishStill),
            Wish { is_open: true, .. } if strings.has_open(self.key) => Some(Reason::WishOpen),
            _ => None,
        }
    }

    /// Why the wish for an open string cannot be had.
    pub(super) fn why_not_open(&self, strings: &StringsPatch) -> Option<Reason> {
        (self.is_open && !strings.has_open(self.key)).then_some(Reason::WishNoOpenString)
    }
}

/// Wishes for the notes of one moment, however its events are handed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Wishes {
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
