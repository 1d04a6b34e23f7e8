//! One edit of a file as a value: what was taken out of its text, and what was put in there.

use crate::profile::FileKind;

/// A file among those that are open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The slot, 0 or 1.
    pub slot: usize,
    /// Which of its three files.
    pub kind: FileKind,
}

/// One edit. It holds only what changes, so a hundred of them cost little.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// The file.
    pub place: Place,
    /// What the player did, in a few words.
    pub words: String,
    /// It is one step with the edit before it.
    pub follows: bool,
    at: usize,
    taken_out: String,
    put_in: String,
}

impl Edit {
    /// The edit that makes `after` of `before`; `None` if they are the same.
    pub fn between(place: Place, words: &str, before: &str, after: &str) -> Option<Edit> {
        if before == after {
            return None;
        }
        let pairs = before.chars().zip(after.chars());
        let at = pairs.take_while(|(old, new)| old == new).map(|(old, _)| old.len_utf8()).sum();
        let (old, new): (&str, &str) = (&before[at..], &after[at..]);
        let pairs = old.chars().rev().zip(new.chars().rev());
        let tail: usize =
            pairs.take_while(|(old, new)| old == new).map(|(old, _)| old.len_utf8()).sum();
        Some(Edit {
            place,
            words: words.to_owned(),
            follows: false,
            at,
            taken_out: old[..old.len() - tail].to_owned(),
            put_in: new[..new.len() - tail].to_owned(),
        })
    }

    /// The text with the edit made; `None` if it is not the text that the edit belongs to.
    pub fn applied(&self, text: &str) -> Option<String> {
        let rest = text.get(self.at..)?.strip_prefix(self.taken_out.as_str())?;
        Some(format!("{}{}{rest}", &text[..self.at], self.put_in))
    }

    /// The edit that takes this one back, to the byte.
    pub fn inverse(&self) -> Edit {
        Edit {
            place: self.place,
            words: self.words.clone(),
            follows: self.follows,
            at: self.at,
            taken_out: self.put_in.clone(),
            put_in: self.taken_out.clone(),
        }
    }
}
