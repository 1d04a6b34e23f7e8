//! A take on disk, and the place beside a shaped file where its take is kept once more.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use super::midi::FILE_BYTES_MAX;
use super::peel::TakeBytes;
use super::save::{self, SaveError, Unnamed};
use super::shape::Shaped;

/// A file with a take in it, and the take beside it where there is one.
#[derive(Clone, Debug)]
pub struct StoredTake {
    /// The file.
    pub bytes: Vec<u8>,
    beside: Option<Vec<u8>>,
}

impl StoredTake {
    /// Reads a file, or standard input for `-`, and the take beside it.
    ///
    /// # Errors
    /// [`SaveError::System`].
    pub fn read(path: &Path) -> Result<StoredTake, SaveError> {
        let bytes = save::read(path, FILE_BYTES_MAX)?;
        let place = place_beside(path);
        let is_there = !save::is_standard(path) && place.is_file();
        let beside = is_there.then(|| save::read(&place, FILE_BYTES_MAX)).transpose()?;
        Ok(StoredTake { bytes, beside })
    }

    /// What is shaped or peeled.
    pub fn as_take(&self) -> TakeBytes<'_> {
        TakeBytes { bytes: &self.bytes, beside: self.beside.as_deref() }
    }
}

/// The place of the take beside a shaped file: `line.take.mid` beside `line.mid`.
pub fn place_beside(path: &Path) -> PathBuf {
    let mut name = path.file_stem().map_or_else(OsString::new, ToOwned::to_owned);
    name.push(".take");
    match path.extension() {
        Some(extension) => {
            name.push(".");
            name.push(extension);
        }
        None => name.push(".mid"),
    }
    path.with_file_name(name)
}

/// Where a shaped file goes and what may happen there.
#[derive(Clone, Copy, Debug)]
pub struct ShapedPlace<'a> {
    /// The take's file.
    pub input: &'a Path,
    /// The shaped file's; `-` is standard output, which has no place beside it.
    pub output: &'a Path,
    /// Files that are there are overwritten.
    pub is_forced: bool,
    /// The take is written beside it.
    pub keeps_take: bool,
}

impl ShapedPlace<'_> {
    /// Writes a shaped file and its take, for [`save::name_all`]: the take first, so that no shaped
    /// file stands without it. Standard output is written at once. `take` is what was shaped. A
    /// place that holds the take already is left alone. Gives the take's place too.
    ///
    /// # Errors
    /// [`SaveError::Exists`] unless forced, [`SaveError::SameFile`] if the input stands in the
    /// take's place and is not the take, [`SaveError::OtherTake`] if another take stands there and
    /// none is to be written, [`SaveError::System`].
    pub fn write_unnamed(
        &self,
        shaped: &Shaped,
        take: &[u8],
    ) -> Result<(Vec<Unnamed>, Option<PathBuf>), SaveError> {
        let ShapedPlace { input, output, is_forced, keeps_take } = *self;
        let take = shaped.peeled.as_deref().unwrap_or(take);
        let place = (!save::is_standard(output)).then(|| place_beside(output));
        let is_there = |place: &PathBuf| {
            place.is_file() && save::read(place, FILE_BYTES_MAX).is_ok_and(|there| there == take)
        };
        let shaped = save::write_unnamed(output, &shaped.bytes, is_forced)?;
        let mut files = Vec::new();
        if let Some(place) = place.as_ref().filter(|place| !is_there(place)) {
            if keeps_take {
                save::check_output(input, place, is_forced)?;
                files.extend(save::write_unnamed(place, take, is_forced)?);
            } else if place.exists() {
                return Err(SaveError::OtherTake { path: place.clone() });
            }
        }
        files.extend(shaped);
        Ok((files, place.filter(|_| keeps_take)))
    }
}
