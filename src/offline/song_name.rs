//! The song's name, as its file has it.

use super::midi::File;

/// The meta event that names a track (SMF 1.0), and the longest name that is a title.
const TRACK_NAME: u8 = 0x03;
const TITLE_MAX: usize = 60;

/// The song's name: SMF 1.0 has it as the name of the first track.
pub fn song_name(file: &File) -> Option<&str> {
    let name = file.tracks.first()?.events.iter().find_map(|event| event.meta(TRACK_NAME))?;
    let name = std::str::from_utf8(name).ok()?.trim();
    (!name.is_empty() && name.chars().count() <= TITLE_MAX).then_some(name)
}
