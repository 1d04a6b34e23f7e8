//! Prints an instrument, a receiver or a hand: every field with its unit and how far to trust it.

use super::{Answer, differ};
use polso::profile::log::Field;
use polso::profile::origin::{self, FieldOrigin};
use polso::profile::pitch::key_name;
use polso::profile::{About, Any};
use serde_json::{Value as Json, json};

/// Print an instrument, target or hand with units and confidence
#[derive(clap::Args)]
pub struct Options {
    /// A shipped name (see list) or a file
    #[arg(required_unless_present = "diff")]
    name: Option<String>,
    /// Print only what differs between two of them; ends with 1 if anything does
    #[arg(long, num_args = 2, value_names = ["A", "B"], conflicts_with = "name")]
    diff: Option<Vec<String>>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

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

pub fn run(options: &Options) -> Answer {
    if let Some([one, other]) = options.diff.as_deref() {
        return differ::run(one, other, options.json);
    }
    match Any::load(options.name.as_deref().unwrap_or_default()) {
        Err(error) => Answer::bad_input(error),
        Ok(any) if options.json => Answer::fine(as_json(&any)),
        Ok(any) => Answer::fine(as_text(&any)),
    }
}

pub(super) fn origins(any: &Any) -> &[FieldOrigin] {
    any.instrument().map_or(&[], |loaded| &loaded.profile.origins)
}

pub(super) fn unit(path: &str) -> Option<(&'static str, &'static str)> {
    UNITS.into_iter().find(|(ending, _)| path.ends_with(ending))
}

/// Fields that the heading says already.
pub(super) fn is_heading(field: &Field) -> bool {
    matches!(field.path.as_str(), "polso" | "format") || field.path.starts_with("about.")
}

fn as_json(any: &Any) -> String {
    let about = any.about();
    let names: serde_json::Map<String, Json> =
        about.names.iter().map(|(language, name)| (language.clone(), json!(name))).collect();
    let field = |field: &Field| {
        let origin = origin::of(origins(any), &field.path);
        json!({
            "field": field.path,
            "value": field.value,
            "unit": unit(&field.path).map(|(_, unit)| unit),
            "line": field.line,
            "file": field.file,
            "allowed": field.allowed,
            "confidence": origin.map(|origin| origin.confidence.letter().to_string()),
            "origin": origin.map(|origin| origin.text.as_str()),
        })
    };
    let shown = any.fields().iter().filter(|field| !is_heading(field));
    let object = json!({
        "kind": any.kind().name(),
        "id": about.id,
        "names": names,
        "author": about.author,
        "licence": about.licence,
        "notes": about.notes,
        "fields": shown.map(field).collect::<Vec<_>>(),
    });
    format!("{object}\n")
}

fn as_text(any: &Any) -> String {
    let mut text = heading(any.about(), any.kind().name());
    let origins = origins(any);
    let mut last = None;
    for field in any.fields().iter().filter(|field| !is_heading(field)) {
        let (table, name) = field.path.rsplit_once('.').unwrap_or(("", &field.path));
        if last != Some(table) {
            text += &format!(
                "\n{}",
                if table.is_empty() { String::new() } else { format!("{}\n", spaced(table)) }
            );
            last = Some(table);
        }
        let confidence = match (field.line, origin::of(origins, &field.path)) {
            (None, _) => "usual".to_owned(),
            (_, Some(origin)) => origin.confidence.letter().to_string(),
            (_, None) => String::new(),
        };
        let file = field.file.as_ref().map_or(String::new(), |file| format!("  from {file}"));
        let row = format!("  {:28} {:44} {confidence}{file}", label(name), value(field));
        text += &format!("{}\n", row.trim_end());
    }
    if !origins.is_empty() {
        text +=
            "\nH published or undisputed, M several sources or players' guides, L a judgement.\n";
    }
    text
}

fn heading(about: &About, kind: &str) -> String {
    let names: Vec<String> =
        about.names.iter().map(|(language, name)| format!("{name} ({language})")).collect();
    let makers = [about.author.as_str(), about.licence.as_str()];
    let makers: Vec<&str> = makers.into_iter().filter(|text| !text.is_empty()).collect();
    let lines = [names.join(", "), makers.join(", "), about.notes.clone()];
    let mut text = format!("{}, {kind}\n", about.id);
    for line in lines.iter().filter(|line| !line.is_empty()) {
        text += &format!("{}\n", line.trim_end());
    }
    text
}

/// A field's name in words, without its unit.
pub(super) fn label(name: &str) -> String {
    let ending = unit(name).map_or("", |(ending, _)| ending);
    spaced(name.strip_suffix(ending).unwrap_or(name))
}

pub(super) fn spaced(name: &str) -> String {
    name.replace('_', " ").replace('.', ", ")
}

pub(super) fn value(field: &Field) -> String {
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
        Some((_, unit)) if field.value.is_array() && text.contains(" at ") => {
            text.replacen(" at ", &format!(" {unit} at "), 1)
        }
        Some((_, unit)) => format!("{text} {unit}"),
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
