//! How the values of a file are written, and how they are said again in a sentence.

use crate::engine::curve::Curve;
use serde_json::{Value as Json, json};
use std::ops::RangeInclusive;
use toml_edit::{Array, Item, Value};

/// Whether each number stands at least `step` above the one before.
pub(super) fn rises(list: &[f64], step: f64) -> bool {
    // A hair of slack, since 0.3 is not 0.1 + 0.2.
    list.windows(2).all(|pair| pair[1] - pair[0] >= step - 1e-9)
}

pub(super) fn numbers<const N: usize>(list: &Array) -> Option<[f64; N]> {
    let all: Option<Vec<f64>> = list.iter().map(number).collect();
    all?.try_into().ok()
}

pub(super) fn number(value: &Value) -> Option<f64> {
    let given = value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64));
    given.filter(|value| value.is_finite())
}

pub(super) fn whole(value: &Value, range: &RangeInclusive<u16>) -> Option<u16> {
    u16::try_from(value.as_integer()?).ok().filter(|value| range.contains(value))
}

pub(super) fn join(path: &str, name: &str) -> String {
    if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
}

/// A value as a person would write it, short enough for a sentence.
pub(super) fn written(item: &Item) -> String {
    match item {
        Item::Value(value) => shortened(value),
        Item::ArrayOfTables(_) => "a list of tables".to_owned(),
        _ => "a table".to_owned(),
    }
}

pub(super) fn shortened(value: &Value) -> String {
    const CHARS_MAX: usize = 40;
    let text = match value {
        Value::String(text) => format!("{:?}", text.value()),
        Value::InlineTable(_) => return "a table".to_owned(),
        other => {
            let bare = other.clone().decorated("", "").to_string();
            bare.split_whitespace().collect::<Vec<_>>().join(" ")
        }
    };
    if text.chars().count() <= CHARS_MAX {
        return text;
    }
    text.chars().take(CHARS_MAX).chain(['…']).collect()
}

/// A number as JSON, without a needless ".0".
pub(super) fn tidy(value: f64) -> Json {
    if value.fract() == 0.0 && value.abs() < 1e9 { json!(value as i64) } else { json!(value) }
}

pub(super) fn tidy_points(points: &[(f64, f64)]) -> Json {
    Json::Array(points.iter().map(|&(x, y)| json!([tidy(x), tidy(y)])).collect())
}

pub(super) fn show_curve(curve: &Curve) -> Json {
    let points: Vec<(f64, f64)> = curve.points().collect();
    match points[..] {
        [(_, level)] => tidy(level),
        _ => tidy_points(&points),
    }
}

pub(super) fn has_numbers(value: &Json) -> bool {
    match value {
        Json::Number(_) => true,
        Json::Array(list) => list.iter().any(has_numbers),
        _ => false,
    }
}

/// "1 point", "2 points".
pub(super) fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
