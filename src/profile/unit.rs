//! The unit of a field, said by the last word of its name: "tail_ms" is a time in milliseconds.

/// How the last word of a field's name is said as a unit.
const UNITS: [(&str, &str); 9] = [
    ("_ms", "ms"),
    ("_s", "s"),
    ("_cents", "cents"),
    ("_hz", "Hz"),
    ("_db", "dB"),
    ("_semitones", "semitones"),
    ("_percent", "%"),
    ("_m", "m"),
    ("_steps", "steps of 127"),
];

/// The unit of the field with the dotted name `path`, in words for people. `None` for what has no
/// unit: shares, MIDI keys, words.
pub fn unit(path: &str) -> Option<&'static str> {
    ending(path).map(|(_, unit)| unit)
}

/// The field's name in words, without its tables and its unit: "tail" for "tail.tail_ms".
pub fn label(path: &str) -> String {
    let name = path.rsplit('.').next().unwrap_or(path);
    let bare = ending(name).and_then(|(ending, _)| name.strip_suffix(ending)).unwrap_or(name);
    bare.replace('_', " ")
}

fn ending(path: &str) -> Option<(&'static str, &'static str)> {
    UNITS.into_iter().find(|(ending, _)| path.ends_with(ending))
}
