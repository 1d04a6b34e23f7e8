//! What a verb has to say, and the sentences about files that every verb shares.

use std::io;
use std::path::Path;

use polso::offline::midi::FILE_BYTES_MAX;
use polso::offline::save::{self, SaveError};
use polso::offline::stored_take::StoredTake;

/// How a verb ended, as the caller's script sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    Fine = 0,
    Findings = 1,
    BadInput = 2,
    OwnFault = 3,
}

/// What a verb has to say.
pub struct Answer {
    /// For the caller.
    pub exit: Exit,
    /// For standard output.
    pub out: String,
    /// For standard error.
    pub err: String,
}

impl Answer {
    pub fn fine(out: String) -> Answer {
        Answer { exit: Exit::Fine, out, err: String::new() }
    }

    /// Fine, but standard output has carried the result already.
    pub fn aside(err: String) -> Answer {
        Answer { exit: Exit::Fine, out: String::new(), err }
    }

    pub fn bad_input(error: impl ToString) -> Answer {
        Answer { exit: Exit::BadInput, out: String::new(), err: format!("{}\n", error.to_string()) }
    }
}

/// The bytes of a take.
pub fn take(path: &Path) -> Result<Vec<u8>, Answer> {
    save::read(path, FILE_BYTES_MAX).map_err(stored)
}

/// A take, and the one beside it, for verbs that peel.
pub fn stored_take(path: &Path) -> Result<StoredTake, Answer> {
    StoredTake::read(path).map_err(stored)
}

/// What is wrong with a file that was read.
pub fn about(path: &Path, error: impl ToString) -> Answer {
    let name = match save::is_standard(path) {
        true => "standard input".into(),
        false => path.to_string_lossy(),
    };
    Answer::bad_input(format!("{name}: {}", error.to_string()))
}

/// Why a file could not be read or written. A reader of ours that has closed its end wants no
/// more; that is no failure.
pub fn stored(error: SaveError) -> Answer {
    match &error {
        SaveError::System { path, source }
            if save::is_standard(path) && source.kind() == io::ErrorKind::BrokenPipe =>
        {
            Answer::fine(String::new())
        }
        _ => Answer::bad_input(error),
    }
}
