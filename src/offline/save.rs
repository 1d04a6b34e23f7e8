//! Puts a result on disk whole or not at all.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::thread;

use super::save_error::folder_of;
pub use super::save_error::{SaveError, is_standard};
use tempfile::NamedTempFile;

/// What standard input is called in an error.
const STANDARD_INPUT: &str = "standard input";

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
    let name = if is_standard(path) { Path::new(STANDARD_INPUT) } else { path };
    done.map_err(|error| system(name, error))?;
    Ok(bytes)
}

/// Refuses an output that exists (unless forced), is the input, or stands where no file can. To be
/// asked before the work.
///
/// # Errors
/// Those of [`check_taken`], and [`SaveError::NoFolder`].
pub fn check_output(input: &Path, output: &Path, is_forced: bool) -> Result<(), SaveError> {
    check_taken(input, output, is_forced)?;
    check_folder(output)
}

/// The same without asking for the output's folder, which may be made yet.
///
/// # Errors
/// [`SaveError::Exists`], [`SaveError::SameFile`], [`SaveError::Folder`] or [`SaveError::NoFile`].
pub fn check_taken(input: &Path, output: &Path, is_forced: bool) -> Result<(), SaveError> {
    check_kind(output)?;
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

/// Refuses a place where a folder or a device stands.
fn check_kind(output: &Path) -> Result<(), SaveError> {
    let path = output.to_owned();
    match fs::metadata(output) {
        _ if is_standard(output) => Ok(()),
        Ok(there) if there.is_dir() => Err(SaveError::Folder { path }),
        Ok(there) if !there.is_file() => Err(SaveError::NoFile { path }),
        _ => Ok(()),
    }
}

/// Refuses a place in a folder that is not there.
fn check_folder(output: &Path) -> Result<(), SaveError> {
    match is_standard(output) || folder_of(output).is_dir() {
        true => Ok(()),
        false => Err(SaveError::NoFolder { path: output.to_owned() }),
    }
}

/// A file that is written piece by piece beside its place and moved there when it is whole, or
/// standard output for `-`. If it is dropped before [`SafeWriter::finish`], no file is left.
#[derive(Debug)]
pub struct SafeWriter {
    path: PathBuf,
    is_forced: bool,
    out: BufWriter<Out>,
}

#[derive(Debug)]
enum Out {
    Standard(io::Stdout),
    Beside(NamedTempFile),
}

impl SafeWriter {
    /// Begins a file for this path; `is_forced` lets it replace another in the end.
    ///
    /// # Errors
    /// [`SaveError::System`], and those of a place where no file can stand.
    pub fn create(path: &Path, is_forced: bool) -> Result<SafeWriter, SaveError> {
        check_kind(path)?;
        check_folder(path)?;
        let out = match is_standard(path) {
            true => Out::Standard(io::stdout()),
            false => Out::Beside(beside(path).map_err(|error| system(path, error))?),
        };
        Ok(SafeWriter { path: path.to_owned(), is_forced, out: BufWriter::new(out) })
    }

    /// Writes the next bytes.
    ///
    /// # Errors
    /// [`SaveError::System`].
    pub fn write(&mut self, bytes: &[u8]) -> Result<(), SaveError> {
        self.out.write_all(bytes).map_err(|error| system(&self.path, error))
    }

    /// Puts the whole file in its place.
    ///
    /// # Errors
    /// [`SaveError::Exists`] unless forced, [`SaveError::System`]. Then the place is as it was.
    pub fn finish(self) -> Result<(), SaveError> {
        name_all(vec![self.unnamed()?.into_iter().collect()]).into_iter().collect()
    }

    /// The whole file beside its place, for [`name_all`]; `None` is standard output, which has it.
    fn unnamed(self) -> Result<Option<Unnamed>, SaveError> {
        let SafeWriter { path, is_forced, out } = self;
        let written = out.into_inner().map_err(io::IntoInnerError::into_error);
        match written.map_err(|error| system(&path, error))? {
            Out::Standard(mut out) => {
                out.flush().map_err(|error| system(&path, error))?;
                Ok(None)
            }
            Out::Beside(beside) => Ok(Some(Unnamed { beside, path, is_forced })),
        }
    }
}

/// A file that is written beside its place and does not have its name yet. Dropped, it is gone.
#[derive(Debug)]
pub struct Unnamed {
    beside: NamedTempFile,
    path: PathBuf,
    is_forced: bool,
}

/// Writes a file beside its place, for [`name_all`]. Standard output has no place: then it is
/// written, and `None`.
///
/// # Errors
/// [`SaveError::System`].
pub fn write_unnamed(
    path: &Path,
    bytes: &[u8],
    is_forced: bool,
) -> Result<Option<Unnamed>, SaveError> {
    let mut file = SafeWriter::create(path, is_forced)?;
    file.write(bytes)?;
    file.unnamed()
}

/// Moves files to their places, each once its bytes are on the disk: a file that had its name
/// before would be empty after a power cut. Files of one group get their names together or none
/// does. One answer for each group, in order, as [`write`] has it.
pub fn name_all(groups: Vec<Vec<Unnamed>>) -> Vec<Result<(), SaveError>> {
    let files: Vec<&Unnamed> = groups.iter().flatten().collect();
    let mut synced = sync_all(&files).into_iter();
    let folders: BTreeSet<PathBuf> =
        files.iter().map(|file| folder_of(&file.path).to_owned()).collect();
    let named = groups.into_iter().map(|files| {
        let synced: Vec<io::Result<()>> = synced.by_ref().take(files.len()).collect();
        name_together(files, synced)
    });
    let named = named.collect();
    folders.iter().for_each(|folder| sync_folder(folder));
    named
}

/// Moves the files of one group to their places, or leaves all places as they were.
fn name_together(files: Vec<Unnamed>, synced: Vec<io::Result<()>>) -> Result<(), SaveError> {
    for (file, synced) in files.iter().zip(synced) {
        synced.map_err(|source| system(&file.path, source))?;
    }
    let mut before: Vec<PlaceBefore> = Vec::new();
    let last = files.len().saturating_sub(1);
    for (number, file) in files.into_iter().enumerate() {
        // Nothing comes after the last that could fail.
        let place = (number < last).then(|| PlaceBefore::of(&file)).transpose();
        let named = place.and_then(|place| {
            file.name()?;
            Ok(place)
        });
        match named {
            Ok(place) => before.extend(place),
            Err(error) => {
                before.into_iter().for_each(PlaceBefore::bring_back);
                return Err(error);
            }
        }
    }
    Ok(())
}

impl Unnamed {
    fn name(self) -> Result<(), SaveError> {
        let Unnamed { beside, path, is_forced } = self;
        let moved = match is_forced {
            true => beside.persist(&path),
            false => beside.persist_noclobber(&path),
        };
        moved.map(drop).map_err(|error| match error.error.kind() {
            io::ErrorKind::AlreadyExists => SaveError::Exists { path },
            _ => SaveError::System { path, source: error.error },
        })
    }
}

/// What stood in a place before a file was moved there.
struct PlaceBefore {
    path: PathBuf,
    /// A copy of the file that is overwritten.
    old: Option<NamedTempFile>,
}

impl PlaceBefore {
    fn of(file: &Unnamed) -> Result<PlaceBefore, SaveError> {
        let path = file.path.clone();
        let old = (file.is_forced && path.is_file()).then(|| {
            let old = beside(&path)?;
            fs::copy(&path, old.path())?;
            Ok(old)
        });
        let old = old.transpose().map_err(|error| system(&path, error))?;
        Ok(PlaceBefore { path, old })
    }

    /// What cannot be undone either is not worth a second sentence: the first is said.
    fn bring_back(self) {
        match self.old {
            Some(old) => drop(old.persist(&self.path)),
            None => drop(fs::remove_file(&self.path)),
        }
    }
}

/// Waits until the bytes of all are on the disk. Many at once, as the disk is told once for all
/// who wait: a thousand files take a fifth of the time that they take one after the other.
fn sync_all(files: &[&Unnamed]) -> Vec<io::Result<()>> {
    let sync = |file: &Unnamed| file.beside.as_file().sync_all();
    let (first, others) = match files {
        [] => return Vec::new(),
        [first, others @ ..] => (first, others),
    };
    thread::scope(|scope| {
        let threads: Vec<_> = others.iter().map(|file| scope.spawn(move || sync(file))).collect();
        let lost = |_| Err(io::Error::other("the thread that waits for the disk is gone"));
        let others = threads.into_iter().map(|thread| thread.join().unwrap_or_else(lost));
        std::iter::once(sync(first)).chain(others).collect()
    })
}

impl Write for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Out::Standard(out) => out.write(bytes),
            Out::Beside(file) => file.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Out::Standard(out) => out.flush(),
            Out::Beside(file) => file.flush(),
        }
    }
}

/// A file of another name in the folder of `path`.
fn beside(path: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".polso-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Readable as any new file; the user's mask takes its share.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder_of(path))
}

/// Lets the disk know the new name too. The file stands whole either way, so a folder that cannot
/// be synced (some network disks have none) is no failure.
fn sync_folder(folder: &Path) {
    #[cfg(unix)]
    let _ = fs::File::open(folder).and_then(|folder| folder.sync_all());
    #[cfg(not(unix))]
    let _ = folder;
}

/// A file without a name for what is too much for memory. It is gone when it is dropped.
///
/// # Errors
/// [`SaveError::System`].
pub fn nameless() -> Result<fs::File, SaveError> {
    tempfile::tempfile().map_err(|error| system(&std::env::temp_dir(), error))
}

/// Says the system's words alone: what stands beside the place under a name of chance means nothing
/// to anybody.
fn system(path: &Path, source: io::Error) -> SaveError {
    // A file under a name of chance adds its path to the system's words, and holds them out of reach.
    let said = source.get_ref().map(ToString::to_string);
    let plain = said.as_deref().and_then(|said| Some(said.split_once(" at path ")?.0.to_owned()));
    let source = match plain {
        Some(plain) => io::Error::new(source.kind(), plain),
        None => source,
    };
    SaveError::System { path: path.to_owned(), source }
}

/// Writes a file whole or not at all, or writes to standard output for `-`.
///
/// # Errors
/// [`SaveError::Exists`] unless forced, [`SaveError::System`], and those of a place where no file can
/// stand. Then nothing was written.
pub fn write(path: &Path, bytes: &[u8], is_forced: bool) -> Result<(), SaveError> {
    let mut file = SafeWriter::create(path, is_forced)?;
    file.write(bytes)?;
    file.finish()
}
