//! Prints an instrument, a receiver or a hand: every field with its unit and how far to trust it.

use super::answer::Answer;
use super::field_text::{is_heading, origins, spaced, value};
use super::schema::{self, SchemaKind};
use super::show_diff;
use polso::profile::log::Field;
use polso::profile::unit::{label, unit};
use polso::profile::{About, Any, origin};
use serde_json::{Value as Json, json};

/// Print an instrument, target or hand, number by number
#[derive(clap::Args)]
pub struct ShowOptions {
    /// A shipped name (see list) or a file
    #[arg(required_unless_present_any = ["diff", "schema"])]
    name: Option<String>,
    /// Print only what differs between two of them; ends with 1 if anything does
    #[arg(long, num_args = 2, value_names = ["A", "B"], conflicts_with = "name")]
    diff: Option<Vec<String>>,
    /// Print the JSON Schema of this kind of file instead
    #[arg(long, value_name = "KIND", conflicts_with_all = ["name", "diff"])]
    schema: Option<SchemaKind>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &ShowOptions) -> Answer {
    if let Some(kind) = options.schema {
        return schema::print(kind, options.json);
    }
    if let Some([one, other]) = options.diff.as_deref() {
        return show_diff::run(one, other, options.json);
    }
    match Any::load(options.name.as_deref().unwrap_or_default()) {
        Err(error) => Answer::bad_input(error),
        Ok(any) if options.json => Answer::fine(as_json(&any)),
        Ok(any) => Answer::fine(as_text(&any)),
    }
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
            "unit": unit(&field.path),
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
