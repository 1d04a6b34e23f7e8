//! What a shaped file says of how it was shaped, so that its take can be heard in the same way.

use crate::offline::Error;
use crate::offline::midi::{File, read, write};
use crate::offline::peel;
use crate::offline::take::{Request, recorded_request};

/// A shaped file taken apart.
#[derive(Debug)]
pub struct RecordedTake {
    /// Its take.
    pub take: Vec<u8>,
    /// How it was shaped; a sentence if that cannot be had any more.
    pub request: Result<Request, String>,
    /// What the user should know.
    pub notices: Vec<String>,
}

/// Takes a shaped file apart; `None` of a take that is not shaped. `wishes` is the text of the table
/// that it was shaped with, if there was one.
///
/// # Errors
/// Any [`Error`] of reading or peeling it.
pub fn recorded(bytes: &[u8], wishes: Option<&str>) -> Result<Option<RecordedTake>, Error> {
    let file: File = read::read(bytes)?;
    let Some(marker) = peel::shaped_mark(&file) else { return Ok(None) };
    let peeled = peel::peel(file)?;
    let mut notices = vec!["the file is shaped: its take is heard as its record says".to_owned()];
    notices.extend(peeled.other_revision());
    notices.extend(peeled.leftovers);
    let target = super::receiver::TARGET.to_owned();
    let request = recorded_request(&marker, wishes).map(|own| Request { target, ..own });
    Ok(Some(RecordedTake { take: write::write(&peeled.file)?, request, notices }))
}
