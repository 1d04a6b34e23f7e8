//! How one note joins the next, in the trade's words.

/// How the present note joined the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Mode {
    /// It did not join.
    Fresh,
    /// As fast as the fingers go.
    Quick,
    /// An ordinary join.
    Joined,
    /// A drawn-out join.
    Slow,
    /// The finger slides.
    Slide,
}

impl Mode {
    /// The modes in the order of [`crate::patch::ModePatch`].
    pub const ALL: [Mode; 5] = [Mode::Fresh, Mode::Quick, Mode::Joined, Mode::Slow, Mode::Slide];

    /// The trade's word.
    pub const fn name(self) -> &'static str {
        match self {
            Mode::Fresh => "fresh",
            Mode::Quick => "quick",
            Mode::Joined => "joined",
            Mode::Slow => "slow",
            Mode::Slide => "slide",
        }
    }
}
