//! What is wrong with a file: the line, the field, what stands there and what may stand there.

use std::fmt;

/// One thing in a file that cannot be used as it stands. As a text it is one sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The line, counted from 1; `None` where there is nothing to point at.
    pub line: Option<usize>,
    /// The file that it stands in, where that is one on which the file is based.
    pub file: Option<String>,
    /// The dotted name of the field, or "the file" for the whole.
    pub field: String,
    /// What stands there.
    pub found: String,
    /// What may stand there.
    pub allowed: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, &self.file) {
            (Some(line), Some(file)) => write!(out, "line {line} of {file}: ")?,
            (Some(line), None) => write!(out, "line {line}: ")?,
            (None, Some(file)) => write!(out, "{file}: ")?,
            (None, None) => {}
        }
        write!(out, "{} is {}; allowed is {}", self.field, self.found, self.allowed)
    }
}

/// Something worth a look that does not keep a file from being used. As a text it is one sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// The line, counted from 1; `None` where the note is about the whole file.
    pub line: Option<usize>,
    /// The dotted name of the field.
    pub field: String,
    /// One sentence without its full stop.
    pub sentence: String,
    /// The field is unknown and one letter away from a known one: surely a slip.
    pub is_slip: bool,
}

impl fmt::Display for Remark {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(out, "line {line}: ")?;
        }
        write!(out, "{}: {}", self.field, self.sentence)
    }
}

/// Why a file, or a shipped name, gave nothing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LoadError {
    /// The file cannot be read from disk.
    #[error("{name}: cannot be read: {reason}")]
    Unreadable {
        /** The path as it was given. */
        name: String,
        /** The system's words. */
        reason: String,
    },
    /// Neither a shipped name nor a file.
    #[error(
        "{name:?} is neither a shipped {kind} nor a file; shipped are {known}; the nearest is {nearest}"
    )]
    Unknown {
        /** instrument, target or hand; name if any of them would do */
        kind: &'static str,
        /** The name as it was given. */
        name: String,
        /** The shipped names, with commas. */
        known: String,
        /** The shipped name that looks most like it. */
        nearest: &'static str,
    },
    /// Several shipped files have the name, or a part of theirs is like it.
    #[error("{name:?} could be {ids}; give one of these")]
    Ambiguous {
        /** The name as it was given. */
        name: String,
        /** The shipped files that it could be, with commas. */
        ids: String,
    },
    /// The file was read and cannot be used. Every fault is here, in order of lines.
    #[error("{}", sentences(name, faults))]
    Faulty {
        /** The path or the shipped name. */
        name: String,
        /** At least one. */
        faults: Vec<Fault>,
    },
}

fn sentences(name: &str, faults: &[Fault]) -> String {
    let lines: Vec<String> = faults.iter().map(|fault| format!("{name}: {fault}")).collect();
    lines.join("\n")
}

/// The candidate that looks most like `name`, and how much: 0 not at all, 1 the same.
pub(super) fn nearest<'a>(
    name: &str,
    candidates: impl Iterator<Item = &'a str>,
) -> Option<(&'a str, f64)> {
    candidates
        .map(|candidate| (candidate, strsim::jaro_winkler(name, candidate)))
        .max_by(|one, other| one.1.total_cmp(&other.1))
}
