//! What the tests measured against the outside world, printed where everyone sees it.

use std::fs;
use std::path::{Path, PathBuf};

/// Figures that a full run must have written; a missing one means that its test did not run.
const EXPECTED: [&str; 20] = [
    "folk-melodies",
    "recorded-streams",
    "looked-at",
    "mido",
    "midi2abc",
    "midicsv",
    "pchip",
    "smoothing",
    "unevenness",
    "vibrato-measure",
    "performed-vibrato",
    "forced-open",
    "driven-vibrato",
    "level-gm2",
    "level-table",
    "tail",
    "send",
    "slides",
    "economy",
    "economy-bounds",
];

/// Takes the figures of earlier runs away.
pub fn clear(root: &Path) -> Result<(), String> {
    let folder = folder(root);
    if folder.exists() {
        fs::remove_dir_all(&folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    }
    Ok(())
}

/// Prints every figure; fails if one is missing.
pub fn print(root: &Path) -> Result<(), String> {
    let mut missing = Vec::new();
    for name in EXPECTED {
        match fs::read_to_string(folder(root).join(name).with_extension("txt")) {
            Ok(text) => println!("{name}: {}", text.trim()),
            Err(_) => missing.push(name),
        }
    }
    if missing.is_empty() { Ok(()) } else { Err(format!("no figure for {}", missing.join(", "))) }
}

fn folder(root: &Path) -> PathBuf {
    root.join("target/outside/figures")
}
