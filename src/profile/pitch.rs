//! MIDI keys by the names of their notes; 60 is C4.

const NAMES: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];

/// The note's name, as in "Bb3" for key 58.
pub fn key_name(key: u8) -> String {
    let octave = i32::from(key / 12) - 1;
    format!("{}{octave}", NAMES[usize::from(key % 12)])
}

/// The key of a number, or of a note's name with sharps or flats: "58", "Bb3", "A#3".
pub fn key_of(text: &str) -> Option<u8> {
    if let Ok(key) = text.parse::<u8>() {
        return (key < 128).then_some(key);
    }
    let mut letters = text.chars();
    let step = match letters.next()?.to_ascii_uppercase() {
        'C' => 0,
        'D' => 2,
        'E' => 4,
        'F' => 5,
        'G' => 7,
        'A' => 9,
        'B' => 11,
        _ => return None,
    };
    let rest = letters.as_str();
    let (shift, octave) = match rest.chars().next()? {
        '#' => (1, &rest[1..]),
        'b' => (-1, &rest[1..]),
        _ => (0, rest),
    };
    let octave = octave.parse::<i8>().ok()?;
    let key = 12 * (i32::from(octave) + 1) + step + shift;
    u8::try_from(key).ok().filter(|key| *key < 128)
}
