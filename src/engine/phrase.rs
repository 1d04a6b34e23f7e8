//! Where the phrase stands: at rest, sounding, or in its drawn-out end.

/// Where the phrase stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Phrase {
    /// Nothing sounds.
    Rest,
    /// A key is held, or the pedal holds a note.
    Sounding,
    /// The last note is being drawn out.
    Tail,
}

impl Phrase {
    /// A stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Phrase::Rest => "rest",
            Phrase::Sounding => "sounding",
            Phrase::Tail => "tail",
        }
    }
}
