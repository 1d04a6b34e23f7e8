//! Files on disk: opened, saved beside their place, never written over without asking.

use std::path::{Path, PathBuf};

use super::open_file::OpenFile;
use crate::offline::save::{self, SaveError};
use crate::profile::Document;
use crate::profile::document::FILE_BYTES_MAX;

/// How many faults of a file are shown at once: more would push everything else out of the window.
const FAULTS_TOLD: usize = 6;

/// How a saving ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Saved {
    /// It is on disk.
    Done,
    /// There is a file of that name; nothing was written.
    Exists,
}

/// Writes bytes into a new file, or over an existing one if that `is_wished`.
///
/// # Errors
/// What the system says.
pub fn save(path: &Path, contents: &[u8], is_wished: bool) -> Result<Saved, String> {
    match save::write(path, contents, is_wished) {
        Ok(()) => Ok(Saved::Done),
        Err(SaveError::Exists { .. }) => Ok(Saved::Exists),
        Err(error) => Err(error.to_string()),
    }
}

/// Opens a file that can be used.
///
/// # Errors
/// What the system says, or the faults of the file, one a line.
pub fn open(path: &Path) -> Result<OpenFile, String> {
    let bytes = save::read(path, FILE_BYTES_MAX).map_err(|error| error.to_string())?;
    let document = Document::from_bytes(&bytes).map_err(|fault| named(path, &fault))?;
    OpenFile::open(document.text()).map_err(|faults| {
        let told = faults.iter().take(FAULTS_TOLD).map(|fault| named(path, fault));
        let more = faults.len().saturating_sub(FAULTS_TOLD);
        let more = (more > 0).then(|| format!("and {more} more"));
        told.chain(more).collect::<Vec<_>>().join("\n")
    })
}

/// The files of a folder to share: instrument and target, never the hand.
pub fn shared(folder: &Path, files: [&OpenFile; 2]) -> Vec<(PathBuf, String)> {
    let place = |file: &OpenFile| {
        let about = file.meaning().about();
        let name = format!("{}.{}.toml", about.id, file.kind().name());
        (folder.join(name), file.text().to_owned())
    };
    files.into_iter().map(place).collect()
}

fn named(path: &Path, fault: &crate::profile::Fault) -> String {
    format!("{}: {fault}", path.display())
}
