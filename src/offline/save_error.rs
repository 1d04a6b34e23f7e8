//! Why a result is not put on disk, in a sentence with its place.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why a file was not written or read.
#[derive(Debug, Error)]
pub enum SaveError {
    /// There is a file of that name.
    #[error("{}: the file exists; --force overwrites it", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The result would replace what it was made from.
    #[error("{}: input and output are the same file", path.display())]
    SameFile {
        /// The file.
        path: PathBuf,
    },
    /// Another take lies where a shaped file's own would, and is not to be written.
    #[error(
        "{}: another take lies there, and peel would give it back for this one; move it away, or \
         leave out --no-take",
        path.display()
    )]
    OtherTake {
        /// The take.
        path: PathBuf,
    },
    /// The output would stand where a folder is.
    #[error("{}: a folder stands there; give the name of a file", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// The output would replace a device, a pipe or the like.
    #[error("{}: what stands there is no file; - is standard output", path.display())]
    NoFile {
        /// What stands there.
        path: PathBuf,
    },
    /// The output would stand in a folder that is not there.
    #[error("{}: there is no folder {}", path.display(), folder_of(path).display())]
    NoFolder {
        /// The file.
        path: PathBuf,
    },
    /// The system refused.
    #[error("{}: {source}", name_of(path))]
    System {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

/// Whether this path means standard input or output.
pub fn is_standard(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// How a path is called.
fn name_of(path: &Path) -> String {
    if is_standard(path) { "standard output".to_owned() } else { path.display().to_string() }
}

pub fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}
