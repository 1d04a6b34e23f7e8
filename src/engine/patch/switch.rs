//! What a receiver is told to choose: the legato mode and the articulation, each by one kind of message.

/// The most articulations: they are known by a place in one common list, whose names are the
/// profile's.
pub const ARTICULATIONS_MAX: usize = 16;
/// The place of the articulation whose notes join.
pub const LEGATO: u8 = 0;
/// Bit n is set if the articulation at place n is plucked or struck, not bowed or blown: its notes
/// ring by themselves. Places 9 and 10, pizzicato and col legno (common practice, no source).
pub const PLUCKED: u16 = 1 << 9 | 1 << 10;
const _: () = assert!(ARTICULATIONS_MAX == u16::BITS as usize);

/// How the receiver is told one of `N` things; `None` where it has no value for one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChoicePatch<const N: usize> {
    /// It is not told.
    Silent,
    /// By keys outside the playing range.
    Keyswitch {
        /// The key of each.
        keys: [Option<u8>; N],
        /// The keyswitch's velocity.
        velocity: u8,
        /// Held until the next one; otherwise released 10 ms after its note.
        is_held: bool,
    },
    /// By program changes.
    Program([Option<u8>; N]),
    /// By the values of one controller.
    Controller {
        /// Controller 0–119.
        number: u8,
        /// The value of each.
        values: [Option<u8>; N],
    },
}

/// How the receiver is told the legato mode: fresh, quick, joined, slow, slide.
pub type ModePatch = ChoicePatch<5>;

impl<const N: usize> ChoicePatch<N> {
    /// The key, program or value of a choice.
    pub fn value(&self, place: usize) -> Option<u8> {
        let values = match self {
            ChoicePatch::Silent => return None,
            ChoicePatch::Keyswitch { keys: values, .. }
            | ChoicePatch::Program(values)
            | ChoicePatch::Controller { values, .. } => values,
        };
        *values.get(place)?
    }

    /// Whether a receiver hears both choices in one way, so that one of them undoes the other.
    pub fn shares<const M: usize>(&self, other: &ChoicePatch<M>) -> bool {
        match (self, other) {
            (ChoicePatch::Keyswitch { .. }, ChoicePatch::Keyswitch { .. })
            | (ChoicePatch::Program(_), ChoicePatch::Program(_)) => true,
            (
                ChoicePatch::Controller { number, .. },
                ChoicePatch::Controller { number: other, .. },
            ) => number == other,
            _ => false,
        }
    }
}

/// How the receiver is told the articulation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ArticulationPatch {
    /// How, and which value each has. One that the receiver lacks has none, and `usual` is told
    /// instead.
    pub choice: ChoicePatch<ARTICULATIONS_MAX>,
    /// The one that stands until another is chosen, below [`ARTICULATIONS_MAX`].
    pub usual: u8,
}

impl ArticulationPatch {
    /// The receiver has none.
    pub const NONE: ArticulationPatch =
        ArticulationPatch { choice: ChoicePatch::Silent, usual: LEGATO };

    /// What the receiver plays for an articulation: the same, or `usual` if it lacks that one.
    pub fn played(&self, articulation: u8) -> u8 {
        match self.choice.value(usize::from(articulation)) {
            Some(_) => articulation,
            None => self.usual,
        }
    }

    /// A note under the articulation that was chosen last is plucked or struck. A receiver that is
    /// told none is taken to play what was chosen.
    pub fn is_plucked(&self, chosen: Option<u8>) -> bool {
        let place = match self.choice {
            ChoicePatch::Silent => chosen.unwrap_or(self.usual),
            _ => self.played(chosen.unwrap_or(self.usual)),
        };
        PLUCKED >> place & 1 == 1
    }
}
