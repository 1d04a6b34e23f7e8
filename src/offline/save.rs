//! Puts a result on disk whole or not at all.

use std::fs;
use std::io::{self, Read, Write};
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
    /// The system refused.
    #[error("{}: {source}", path.display())]
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

/// Reads a file, or standard input for `-`; never more than `size_max` bytes and one.
///
/// # Errors
/// [`SaveError::System`].
pub fn read(path: &Path, size_max: usize) -> Result<Vec<u8>, SaveError> {
    let mut bytes = Vec::new();
    let read = |from: &mut dyn Read, bytes: &mut Vec<u8>| {
        from.take(size_max as u64 + 1).read_to_end(bytes).map(drop)
    };
    let done = if is_standard(path) {
        read(&mut io::stdin().lock(), &mut bytes)
    } else {
        fs::File::open(path).and_then(|mut file| read(&mut file, &mut bytes))
    };
    done.map_err(|source| SaveError::System { path: path.to_owned(), source })?;
    Ok(bytes)
}

/// Refuses an output that exists (unless forced) or is the input. To be asked before the work.
///
/// # Errors
/// [`SaveError::Exists`] or [`SaveError::SameFile`].
pub fn check_output(input: &Path, output: &Path, is_forced: bool) -> Result<(), SaveError> {
    if is_standard(output) || !output.exists() {
        return Ok(());
    }
    let whole = |path: &Path| fs::canonicalize(path).ok();
    if !is_standard(input) && whole(input).is_some() && whole(input) == whole(output) {
        return Err(SaveError::SameFile { path: output.to_owned() });
    }
    match is_forced {
        true => Ok(()),
        false => Err(SaveError::Exists { path: output.to_owned() }),
    }
}

/// Writes a file beside its place and moves it there, or writes to standard output for `-`.
///
/// # Errors
/// [`SaveError::Exists`] unless forced, [`SaveError::System`]. Then nothing was written.
pub fn write(path: &Path, bytes: &[u8], is_forced: bool) -> Result<(), SaveError> {
    let system = |source| SaveError::System { path: path.to_owned(), source };
    if is_standard(path) {
        let mut out = io::stdout().lock();
        return out.write_all(bytes).and_then(|()| out.flush()).map_err(system);
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".polso-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Readable as any new file; the user's mask takes its share.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut beside = builder.tempfile_in(folder.unwrap_or(Path::new("."))).map_err(system)?;
    beside.write_all(bytes).map_err(system)?;
    let moved = match is_forced {
        true => beside.persist(path),
        false => beside.persist_noclobber(path),
    };
    match moved {
        Ok(_) => Ok(()),
        Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
            Err(SaveError::Exists { path: path.to_owned() })
        }
        Err(error) => Err(system(error.error)),
    }
}
