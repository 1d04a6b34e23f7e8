//! Which of the three files a file is: the music, the receiver's addresses, or the player's own controller.

/// The format that this version writes, and the newest that it reads.
pub const FORMAT: i64 = 1;

/// Which of the three files it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FileKind {
    /// The music.
    Instrument,
    /// The receiver's addresses.
    Target,
    /// The player's own controller.
    Hand,
}

impl FileKind {
    /// The word in the file's first line.
    pub const fn name(self) -> &'static str {
        match self {
            FileKind::Instrument => "instrument",
            FileKind::Target => "target",
            FileKind::Hand => "hand",
        }
    }
}
