//! The hand of this computer: one file for all projects, which reads whatever is played just now.

use std::fs;
use std::path::PathBuf;

use crate::profile::document::FILE_BYTES_MAX;
use crate::profile::{self, Hand};

/// The file in the program's own folder.
const FILE: &str = "hand.toml";

/// Where it stands: in the user's folder for settings, as each system has it (XDG Base Directory
/// 0.8; the Application Support folder; the roaming application data). `None` if the system names no
/// such folder.
pub fn path() -> Option<PathBuf> {
    Some(folder()?.join(FILE))
}

#[cfg(target_os = "macos")]
fn folder() -> Option<PathBuf> {
    Some(absolute("HOME")?.join("Library/Application Support/Polso"))
}

#[cfg(target_os = "windows")]
fn folder() -> Option<PathBuf> {
    Some(absolute("APPDATA")?.join("Polso"))
}

#[cfg(not(any(target_os = "macos", target_os = "windows")))]
fn folder() -> Option<PathBuf> {
    let settings = absolute("XDG_CONFIG_HOME");
    Some(settings.or_else(|| Some(absolute("HOME")?.join(".config")))?.join("polso"))
}

/// A relative path counts as none (XDG Base Directory 0.8).
fn absolute(name: &str) -> Option<PathBuf> {
    std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute())
}

/// A hand that was chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChosenHand {
    /// Its id.
    pub id: String,
    /// Its text, with all that it takes over written out.
    pub text: String,
}

/// The host's main thread or the window's. `None` if none was chosen, or the file is no hand.
pub fn read() -> Option<ChosenHand> {
    let path = path()?;
    let size = fs::metadata(&path).ok()?.len();
    let text = (size <= FILE_BYTES_MAX as u64).then(|| fs::read_to_string(&path).ok())??;
    let hand = profile::check::<Hand>(&text).ok()?;
    let (id, text) = (hand.profile.about.id.clone(), hand.flattened().to_owned());
    Some(ChosenHand { id, text })
}
