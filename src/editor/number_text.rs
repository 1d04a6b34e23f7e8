//! Numbers as a player reads and types them, with their units: "220 ms", "0.22 s", "A4 (69)".

use crate::profile::pitch::key_name;

/// A number with its unit, with as few digits as it needs.
pub fn written(value: f64, unit: &str) -> String {
    let number = plain(value);
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

/// A number with as few digits as it needs, at most four after the point.
pub fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A key as a note with its number, "A4 (69)".
pub fn key(key: u8) -> String {
    format!("{} ({key})", key_name(key))
}

/// Reads what was typed into a field of this unit, with or without a unit; a comma is a point.
/// Other units of the same kind are converted: seconds and milliseconds, semitones and cents,
/// percent and shares.
///
/// # Errors
/// What was typed is no number, or has a unit of another kind; one sentence.
pub fn read(typed: &str, unit: &str) -> Result<f64, String> {
    let typed = typed.trim();
    let end = typed
        .char_indices()
        .find(|(_, each)| !(each.is_ascii_digit() || matches!(each, '+' | '-' | '.' | ',')))
        .map_or(typed.len(), |(at, _)| at);
    let (number, given) = typed.split_at(end);
    let number: f64 = number
        .replace(',', ".")
        .parse()
        .map_err(|_| format!("{typed:?} is no number; allowed is a number{}", and(unit)))?;
    let factor = match (given.trim(), unit) {
        ("", _) => 1.0,
        (given, unit) if given == unit => 1.0,
        ("s", "ms") => 1000.0,
        ("ms", "s") => 0.001,
        ("%", "") => 0.01,
        ("semitones" | "st", "cents") => 100.0,
        ("cents" | "ct", "semitones") => 0.01,
        ("ct", "cents") | ("st", "semitones") => 1.0,
        ("hz" | "Hz", "Hz") | ("db" | "dB", "dB") | ("steps", "steps of 127") => 1.0,
        ("cm", "m") => 0.01,
        (given, _) => {
            return Err(format!("{given:?} is no unit here; allowed is a number{}", and(unit)));
        }
    };
    Ok(number * factor)
}

fn and(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" in {unit}") }
}
