//! What is asked of one note, whatever the gesture says, and what came of it.

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
}
