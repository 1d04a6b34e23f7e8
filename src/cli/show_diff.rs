//! Says in which fields two instruments, receivers or hands differ, and what each of them has.

use super::answer::{Answer, Exit};
use super::field_text::{is_heading, origins, spaced, value};
use polso::profile::log::Field;
use polso::profile::unit::{label, unit};
use polso::profile::{Any, origin};
use serde_json::{Value as Json, json};

/// A field that is not the same on both sides; `None` where one of them has no such field.
struct ShownDifference<'a> {
    path: &'a str,
    sides: [Option<&'a Field>; 2],
}

pub fn run(one: &str, other: &str, as_json: bool) -> Answer {
    let both = match (Any::load(one), Any::load(other)) {
        (Ok(one), Ok(other)) => [one, other],
        (Err(error), _) | (_, Err(error)) => return Answer::bad_input(error),
    };
    let kinds = both.each_ref().map(|any| any.kind().name());
    if kinds[0] != kinds[1] {
        let [kind, other_kind] = kinds;
        return Answer::bad_input(format!(
            "{one} is one of the {kind}s and {other} one of the {other_kind}s; \
             only files of one kind can be compared"
        ));
    }
    let differences = differences(&both);
    let exit = if differences.is_empty() { Exit::Fine } else { Exit::Findings };
    let out = if as_json { to_json(&both, &differences) } else { to_text(&both, &differences) };
    Answer { exit, out, err: String::new() }
}

/// In the order of reading; a field that only the second side has stands at the end of its table.
fn differences(both: &[Any; 2]) -> Vec<ShownDifference<'_>> {
    let field = |any: usize, path: &str| both[any].fields().iter().find(|field| field.path == path);
    let mut paths: Vec<&str> = both[0].fields().iter().map(|field| &*field.path).collect();
    for path in both[1].fields().iter().map(|field| &*field.path) {
        if !paths.contains(&path) {
            let table = |path: &str| path.rsplit_once('.').map(|(table, _)| table.to_owned());
            let last = paths.iter().rposition(|known| table(known) == table(path));
            paths.insert(last.map_or(paths.len(), |last| last + 1), path);
        }
    }
    let difference = |path| ShownDifference { path, sides: [field(0, path), field(1, path)] };
    let is_told = |difference: &ShownDifference| {
        let [one, other] = difference.sides;
        let is_field = |field: &Field| !is_heading(field) && field.path != "based_on";
        let values = difference.sides.map(|side| side.map(|field| &field.value));
        one.or(other).is_some_and(is_field) && values[0] != values[1]
    };
    paths.into_iter().map(difference).filter(is_told).collect()
}

fn to_text(both: &[Any; 2], differences: &[ShownDifference]) -> String {
    let ids = both.each_ref().map(|any| any.about().id.as_str());
    if differences.is_empty() {
        return format!("{} and {} differ in no field\n", ids[0], ids[1]);
    }
    let mut text = format!("  {:28} {:44} {}\n", "", ids[0], ids[1]);
    let mut last = None;
    for ShownDifference { path, sides } in differences {
        let (table, name) = path.rsplit_once('.').unwrap_or(("", path));
        if last != Some(table) {
            if !table.is_empty() {
                text += &format!("\n{}\n", spaced(table));
            }
            last = Some(table);
        }
        let [one, other] = sides.map(|side| side.map_or("–".to_owned(), value));
        text += &format!("  {:28} {one:44} {other}\n", label(name));
    }
    text
}

fn to_json(both: &[Any; 2], differences: &[ShownDifference]) -> String {
    let side = |any: &Any, field: Option<&Field>| {
        let origin = field.and_then(|field| origin::of(origins(any), &field.path));
        json!({
            "value": field.map_or(&Json::Null, |field| &field.value),
            "has_field": field.is_some(),
            "line": field.and_then(|field| field.line),
            "file": field.and_then(|field| field.file.as_ref()),
            "confidence": origin.map(|origin| origin.confidence.letter().to_string()),
        })
    };
    let difference = |it: &ShownDifference| {
        json!({
            "field": it.path,
            "unit": unit(it.path),
            "a": side(&both[0], it.sides[0]),
            "b": side(&both[1], it.sides[1]),
        })
    };
    let object = json!({
        "kind": both[0].kind().name(),
        "a": both[0].about().id,
        "b": both[1].about().id,
        "differences": differences.iter().map(difference).collect::<Vec<_>>(),
    });
    format!("{object}\n")
}
