//! Which take a shaped file gives back: the one in its own record, or the one that lies beside it.
//!
//! | the file's record | the take beside it | what is given back |
//! | --- | --- | --- |
//! | whole | any or none | the record's, the very take |
//! | edited | the same music | the one beside: a program has only counted and sorted anew |
//! | edited | another, or none | the record's, with the edits |
//! | gone, the marker left | the marker's digest, the notes agree | the one beside |
//! | gone, nothing left | the notes agree, its gesture is used up | the one beside |
//! | gone | another, or none | nothing |

use super::file::{KeepingPlace, Peeled, Recorded, peel_record, shaped_mark};
use super::same_take::{disagreement, is_same_music, is_used_up};
use crate::offline::digest;
use crate::offline::error::Error;
use crate::offline::midi::{File, read, write};
use crate::offline::record;

/// Said where the take beside a file with a record is not its own.
const ANOTHER: &str = "the take beside it is another; the file's own record was followed";
/// Said where it is, and the file was edited.
const UNEDITED: &str =
    "the take beside it has none of the edits; the file's own record was followed";

/// The bytes of a take, and how they were come by.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenBack {
    /// The take as a file; the one beside is given to the byte.
    pub bytes: Vec<u8>,
    /// The same, and what should be known of it.
    pub peeled: Peeled,
}

/// The take inside a shaped file.
///
/// # Errors
/// [`Error::NotShaped`] if its record is gone.
pub fn peel(file: File) -> Result<Peeled, Error> {
    find(file, None)
}

/// The take of a shaped file, from its own record or from the take beside it.
///
/// # Errors
/// [`Error::NotShaped`], [`Error::OtherTake`] or [`Error::TakeWithoutEdits`] if its record is gone
/// and no take beside it is its own.
pub fn give_back(file: File, beside: Option<&[u8]>) -> Result<GivenBack, Error> {
    let peeled = find(file, beside)?;
    let bytes = match (peeled.place, beside) {
        (KeepingPlace::Beside, Some(beside)) => beside.to_vec(),
        _ => write::write(&peeled.file)?,
    };
    Ok(GivenBack { bytes, peeled })
}

/// Whether a file was shaped, in words: by its own marks, or by the take beside it.
///
/// # Errors
/// [`Error::ForeignTake`] for a file without marks if the take beside it is not its own, and no
/// other version of it either.
pub fn find_shaped(file: &File, beside: Option<&[u8]>) -> Result<Option<String>, Error> {
    if let Some(marker) = shaped_mark(file) {
        return Ok(Some(marker));
    }
    let Some(bytes) = beside else { return Ok(None) };
    let foreign = |why: String| Error::ForeignTake { why };
    let take = read::read(bytes).map_err(|error| foreign(error.to_string()))?;
    if take == *file || !is_used_up(file, &take) {
        return Ok(None);
    }
    match disagreement(file, &take, false) {
        Some(why) => Err(foreign(why)),
        None => Ok(Some("it has the notes of the take beside it".to_owned())),
    }
}

fn find(file: File, beside: Option<&[u8]>) -> Result<Peeled, Error> {
    let Some(marker) = shaped_mark(&file) else { return from_beside(&file, None, beside) };
    let digest = record::marker_take(&marker);
    // One that cannot be read is no take.
    let take = beside.and_then(|bytes| read::read(bytes).ok());
    let is_own = |take: &File| digest.is_none_or(|digest| digest == digest::of_take(take));
    match peel_record(file, &marker) {
        Recorded::Exact(mut peeled) => {
            if take.is_some_and(|take| take != peeled.file) {
                peeled.notices.push(ANOTHER.to_owned());
            }
            Ok(peeled)
        }
        Recorded::Edited(mut peeled) => match take {
            Some(take) if is_own(&take) && is_same_music(&peeled.file, &take) => {
                Ok(Peeled::beside(take, record::marker_engine(&marker)))
            }
            Some(take) => {
                let sentence = if is_own(&take) { UNEDITED } else { ANOTHER };
                peeled.notices.push(sentence.to_owned());
                Ok(peeled)
            }
            None => Ok(peeled),
        },
        Recorded::Gone(file) => from_beside(&file, Some(&marker), beside),
    }
}

/// The take beside a file whose record is gone, if it is the one. `marker` is what is left.
fn from_beside(file: &File, marker: Option<&str>, beside: Option<&[u8]>) -> Result<Peeled, Error> {
    let bytes = beside.ok_or(Error::NotShaped)?;
    let other = |why: String| Error::OtherTake { why };
    let take = read::read(bytes).map_err(|error| other(error.to_string()))?;
    let digest = marker.and_then(record::marker_take);
    match digest {
        Some(digest) if digest != digest::of_take(&take) => {
            return Err(other("its digest is not the one that the marker has".to_owned()));
        }
        Some(_) => {}
        None if take == *file => return Err(other("it is this very file".to_owned())),
        None if !is_used_up(file, &take) => {
            return Err(other("its gesture still stands in the file".to_owned()));
        }
        None => {}
    }
    match disagreement(file, &take, digest.is_some()) {
        Some(why) if digest.is_some() => Err(Error::TakeWithoutEdits { why }),
        Some(why) => Err(other(why)),
        None => Ok(Peeled::beside(take, marker.and_then(record::marker_engine))),
    }
}
