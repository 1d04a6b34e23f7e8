//! How a field of an instrument, a receiver or a hand is said: its value with its unit, and its origin.

use polso::profile::Any;
use polso::profile::log::Field;
use polso::profile::origin::FieldOrigin;
use polso::profile::pitch::key_name;
use polso::profile::unit::unit;
use serde_json::Value as Json;

/// Where the numbers of an instrument come from; nothing else says it.
pub fn origins(any: &Any) -> &[FieldOrigin] {
    any.instrument().map_or(&[], |loaded| &loaded.profile.origins)
}

/// Fields that the heading says already.
pub fn is_heading(field: &Field) -> bool {
    matches!(field.path.as_str(), "polso" | "format") || field.path.starts_with("about.")
}

/// A name of several words.
pub fn spaced(name: &str) -> String {
    name.replace('_', " ").replace('.', ", ")
}

/// A field's value with its unit.
pub fn value(field: &Field) -> String {
    let text = match &field.value {
        Json::Array(list) if list.iter().all(Json::is_array) && !list.is_empty() => {
            pairs(field, list)
        }
        Json::Array(list) if field.path.ends_with("_keys") => {
            list.iter().map(key).collect::<Vec<_>>().join(", ")
        }
        Json::Array(list) => list.iter().map(plain).collect::<Vec<_>>().join(", "),
        Json::Null => "none".to_owned(),
        other => plain(other),
    };
    match unit(&field.path) {
        Some(unit) if field.value.is_array() && text.contains(" at ") => {
            text.replacen(" at ", &format!(" {unit} at "), 1)
        }
        Some(unit) => format!("{text} {unit}"),
        None => text,
    }
}

/// Points of a curve, "0, 56, 120 at 0, 0.5, 1", or edges, "0.1 to 0.3, 0.72 to 0.92".
fn pairs(field: &Field, list: &[Json]) -> String {
    if field.path.ends_with("_edges") {
        let each = list.iter().map(|pair| format!("{} to {}", plain(&pair[0]), plain(&pair[1])));
        return each.collect::<Vec<_>>().join(", ");
    }
    let side =
        |side: usize| list.iter().map(|pair| plain(&pair[side])).collect::<Vec<_>>().join(", ");
    format!("{} at {}", side(1), side(0))
}

fn key(value: &Json) -> String {
    let key = value.as_u64().and_then(|key| u8::try_from(key).ok());
    key.map_or_else(|| plain(value), |key| format!("{} ({key})", key_name(key)))
}

fn plain(value: &Json) -> String {
    match value {
        Json::String(text) => text.clone(),
        Json::Bool(true) => "yes".to_owned(),
        Json::Bool(false) => "no".to_owned(),
        other => other.to_string(),
    }
}
