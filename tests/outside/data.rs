//! Where the outside data stands.

use std::fs;
use std::path::{Path, PathBuf};

use polso::profile::shipped::SHIPPED;

use super::sample::sample;
use super::smf::File;

/// How many melodies the two books of Chinese folk song hold.
pub const MELODY_COUNT: usize = 1222;

/// Where Debian keeps the pieces of `simutrans-data`.
const MUSIC_FOLDER: &str = "/usr/share/games/simutrans/music";

/// What to do if something is not there.
pub const HINT: &str = "run cargo xtask outside, which brings the outside tools and data";

/// The folder that `cargo xtask test` fills.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("target/outside")
}

/// All folk melodies by name. Fails if they are not all there.
pub fn melodies() -> Vec<(String, File)> {
    let folder = folder().join("han");
    let entries = fs::read_dir(&folder).unwrap_or_else(|error| missing(&folder, &error));
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "mid"));
    paths.sort();
    assert_eq!(paths.len(), MELODY_COUNT, "{}: run cargo xtask test", folder.display());
    paths.iter().map(|path| (name(path), read(path))).collect()
}

/// As many of the folk melodies as are to be played: see `tests/sample`.
pub fn some_melodies() -> Vec<(String, File)> {
    sample(melodies())
}

/// A piece with recorded controllers.
pub fn recording(name: &str) -> File {
    read(&folder().join("recordings").join(name))
}

/// The bytes of a piece of `simutrans-data`, as it came.
pub fn piece(name: &str) -> Vec<u8> {
    let places = [folder().join("recordings"), PathBuf::from(MUSIC_FOLDER)];
    let found = places.iter().find_map(|place| fs::read(place.join(name)).ok());
    found.unwrap_or_else(|| panic!("{name} is not there; {HINT}"))
}

/// A MIDI file of the outside data. Fails if it is not there.
pub fn read(path: &Path) -> File {
    let bytes = fs::read(path).unwrap_or_else(|error| missing(path, &error));
    File::read(&bytes).unwrap_or_else(|sentence| panic!("{}: {sentence}", path.display()))
}

fn name(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

fn missing(path: &Path, error: &std::io::Error) -> ! {
    panic!("{}: {error}; run cargo xtask test, which brings the outside data", path.display())
}

/// The ids of all shipped instruments.
pub fn instrument_ids() -> Vec<&'static str> {
    let shipped = SHIPPED.iter().filter(|file| file.text.contains("polso = \"instrument\""));
    shipped.map(|file| file.id).collect()
}
