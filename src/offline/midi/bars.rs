//! Some bars of a take, as `--bars` names them.

use std::fmt;
use std::str::FromStr;

use crate::offline::error::Error;

/// Bars from `first` to `last`, both of them too, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bars {
    /// The first bar.
    pub first: u64,
    /// The last bar; `None` is the end of the take.
    pub last: Option<u64>,
}

impl FromStr for Bars {
    type Err = Error;

    /// Reads `A..B`, `A..` or `..B`.
    fn from_str(text: &str) -> Result<Bars, Error> {
        let number = |part: &str| part.parse::<u64>().ok().filter(|bar| *bar >= 1);
        let bars = text.split_once("..").and_then(|(first, last)| {
            let first_bar = if first.is_empty() { 1 } else { number(first)? };
            let last_bar = if last.is_empty() { None } else { Some(number(last)?) };
            let is_open = first.is_empty() && last.is_empty();
            let is_turned_round = last_bar.is_some_and(|last| last < first_bar);
            (!is_open && !is_turned_round).then_some(Bars { first: first_bar, last: last_bar })
        });
        bars.ok_or_else(|| Error::Bars { given: text.to_owned() })
    }
}

impl fmt::Display for Bars {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.last {
            Some(last) => write!(f, "{}..{last}", self.first),
            None => write!(f, "{}..", self.first),
        }
    }
}
