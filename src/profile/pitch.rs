//! MIDI keys by the names of their notes; 60 is C4.

const NAMES: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];

/// The note's name, as in "Bb3" for key 58.
pub fn key_name(key: u8) -> String {
    let octave = i32::from(key / 12) - 1;
    format!("{}{octave}", NAMES[usize::from(key % 12)])
}
