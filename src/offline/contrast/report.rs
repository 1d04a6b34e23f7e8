//! A contrast in words and as one JSON object.

use serde::Serialize;

use super::difference::BarDifference;
use super::files::Contrast;

/// What the JSON object holds.
#[derive(Serialize)]
struct JsonReport<'a> {
    is_same: bool,
    first_count: usize,
    second_count: usize,
    differences: &'a [BarDifference],
    notices: &'a [String],
}

/// The contrast as one JSON object.
pub fn as_json(contrast: &Contrast) -> String {
    let Contrast { differences, first_count, second_count, notices } = contrast;
    let report = JsonReport {
        is_same: differences.is_empty(),
        first_count: *first_count,
        second_count: *second_count,
        differences,
        notices,
    };
    // No name or number of it can fail to be written.
    format!("{}\n", serde_json::to_string(&report).unwrap_or_default())
}

/// The contrast as a table for people.
pub fn as_text(contrast: &Contrast) -> String {
    let Contrast { differences, first_count, second_count, notices } = contrast;
    let mut text = String::new();
    for row in differences {
        text.push_str(&sentence(row));
    }
    for notice in notices {
        text.push_str(&format!("note       {notice}\n"));
    }
    let events = format!("{first_count} events against {second_count}");
    match differences.len() {
        0 => text.push_str(&format!("no difference in {events}\n")),
        count => text.push_str(&format!("{count} differences in {events}\n")),
    }
    text
}

fn sentence(row: &BarDifference) -> String {
    let place = match (row.bar, row.beat) {
        (Some(bar), Some(beat)) => format!("{bar}.{beat}"),
        _ => "all".to_owned(),
    };
    let whose = match (row.track, row.channel) {
        (Some(track), Some(channel)) => format!("track {track} channel {channel}"),
        (Some(track), None) => format!("track {track}"),
        (None, Some(channel)) => format!("channel {channel}"),
        (None, None) => "the file".to_owned(),
    };
    let counts = format!("{} against {}", row.first_count, row.second_count);
    let mut parts = Vec::new();
    for (count, word) in [(row.missing, "missing"), (row.added, "added"), (row.changed, "changed")]
    {
        if count > 0 {
            parts.push(format!("{count} {word}"));
        }
    }
    if let (Some(largest), Some(unit)) = (row.largest, row.unit) {
        parts.push(format!("at most {} {unit} apart", rounded(largest)));
    }
    let head = format!("{place:<10} {whose:<20} {:<16} {counts}", row.output);
    format!("{head}: {}\n", parts.join(", "))
}

/// A tenth is enough to read, and a small difference is not shown as none.
fn rounded(size: f64) -> String {
    let tenths = (size * 10.0).round() / 10.0;
    if tenths == 0.0 { format!("{size:.3}") } else { tenths.to_string() }
}
