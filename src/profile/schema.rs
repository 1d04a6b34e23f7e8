//! The JSON Schema of each kind of file, made by asking the readers themselves.
//!
//! Small whole files of each kind are read, and every field that the readers ask for goes into the
//! schema; a field that they miss when it is taken away goes into its list of needed fields.

use super::document::Document;
use super::fault::Fault;
use super::hand::Hand;
use super::instrument::Instrument;
use super::kind::FileKind;
use super::load::{Loaded, check};
use super::log::Field;
use super::target::Target;
use super::value_text::join;
use serde_json::{Map, Value as Json, json};
use std::collections::BTreeSet;
use toml_edit::TableLike;

/// A small whole file in which the reader comes to every field, and for which files its list of
/// needed fields holds.
struct Witness {
    text: String,
    /// A schema that fits the files that need the same fields as this one.
    holds_for: Json,
}

/// Tables whose fields have names of the author's own, and the name that a witness uses.
const FREE_NAMES: [(&str, &str); 3] =
    [("about.names", "en"), ("vibrato", "rolled"), ("outputs.style_weight", "rolled")];

/// Stands for any name of the author's own.
const ANY: &str = "*";

/// One table or field of the schema to be.
#[derive(Default)]
struct Node {
    /// What may stand there, each form once.
    forms: Vec<Json>,
    /// The same in words.
    allowed: String,
    inner: Vec<(String, Node)>,
}

/// The JSON Schema (2020-12) of a kind of file. A file that it refuses is refused by the reader
/// too; relations between fields and the spelling of texts are judged by the reader alone.
pub fn schema(kind: FileKind) -> Json {
    let mut root = Node::default();
    let mut cases = Vec::new();
    for Witness { text, holds_for } in witnesses(kind) {
        let fields = fields(kind, &text);
        let own = fields.iter().filter(|field| field.file.is_none());
        own.for_each(|field| root.learn(field));
        cases.push((holds_for, needs(kind, &text)));
    }
    let mut object = root.table();
    let cases = cases
        .into_iter()
        .map(|(holds_for, needed)| json!({ "if": holds_for, "then": root.needing("", &needed) }));
    let head = Map::from_iter([
        ("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema")),
        ("title".to_owned(), json!(format!("Polso: {}", kind.name()))),
    ]);
    let mut whole = head;
    whole.append(&mut object);
    whole.insert("allOf".to_owned(), cases.collect());
    Json::Object(whole)
}

impl Node {
    fn learn(&mut self, field: &Field) {
        let mut node = self;
        for name in free(&field.path).split('.') {
            let place = node.inner.iter().position(|(known, _)| known == name);
            let place = place.unwrap_or_else(|| {
                node.inner.push((name.to_owned(), Node::default()));
                node.inner.len() - 1
            });
            node = &mut node.inner[place].1;
        }
        let form = match field.path.as_str() {
            // Another kind of file has another schema.
            "polso" => json!({ "const": field.value }),
            _ => field.form.schema(),
        };
        if !node.forms.contains(&form) {
            node.forms.push(form);
            node.allowed.clone_from(&field.allowed);
        }
    }

    fn schema(&self) -> Json {
        if !self.inner.is_empty() {
            return Json::Object(self.table());
        }
        let mut schema = match &self.forms[..] {
            [form] => form.clone(),
            forms => json!({ "anyOf": forms }),
        };
        schema["description"] = json!(self.allowed);
        schema
    }

    fn table(&self) -> Map<String, Json> {
        let mut table = Map::from_iter([("type".to_owned(), json!("object"))]);
        let named = self.inner.iter().filter(|(name, _)| name != ANY);
        let named = named.map(|(name, node)| (name.clone(), node.schema()));
        table.insert("properties".to_owned(), Json::Object(named.collect()));
        if let Some((_, any)) = self.inner.iter().find(|(name, _)| name == ANY) {
            let each = any.schema();
            // A field that the reader does not know is kept, whatever it holds.
            let each = match any.inner.is_empty() {
                true => each,
                false => json!({ "if": { "type": "object" }, "then": each }),
            };
            table.insert("additionalProperties".to_owned(), each);
        }
        table
    }

    /// The part of a schema that asks for the `needed` fields in this table, which is at `path`.
    fn needing(&self, path: &str, needed: &BTreeSet<String>) -> Json {
        let full = |name: &str| join(path, name);
        let is_needed = |name: &&String| *name != ANY && needed.contains(&full(name));
        let names = || self.inner.iter().map(|(name, _)| name);
        let tables = self.inner.iter().filter(|(name, _)| name != ANY);
        let tables = tables.map(|(name, node)| (name.clone(), node.needing(&full(name), needed)));
        let mut part = json!({
            "required": names().filter(is_needed).collect::<Vec<_>>(),
            "properties": tables.collect::<Map<String, Json>>(),
        });
        if let Some((name, any)) = self.inner.iter().find(|(name, _)| name == ANY) {
            part["additionalProperties"] = any.needing(&full(name), needed);
        }
        part
    }
}

/// The path with the author's own names replaced.
fn free(path: &str) -> String {
    for (table, name) in FREE_NAMES {
        let own = format!("{table}.{name}");
        match path.strip_prefix(&own) {
            Some(rest) if rest.is_empty() || rest.starts_with('.') => {
                return format!("{table}.{ANY}{rest}");
            }
            _ => {}
        }
    }
    path.to_owned()
}

/// The tables and fields that a reader misses when they are taken out of the text.
fn needs(kind: FileKind, text: &str) -> BTreeSet<String> {
    let Ok(document) = Document::parse(text) else { return BTreeSet::new() };
    let mut paths = Vec::new();
    list_paths(document.root(), "", &mut paths);
    let is_missed = |path: &String| {
        let Some(less) = document.without(path) else { return false };
        let is_inside = |fault: &Fault| {
            let rest = fault.field.strip_prefix(path.as_str());
            fault.found == "missing" && rest.is_some_and(|it| it.is_empty() || it.starts_with('.'))
        };
        // Without the first two lines nothing else is read.
        path == "polso" || path == "format" || faults(kind, &less).iter().any(is_inside)
    };
    paths.into_iter().filter(is_missed).map(|path| free(&path)).collect()
}

fn list_paths(table: &dyn TableLike, path: &str, paths: &mut Vec<String>) {
    for (name, item) in table.iter() {
        let full = join(path, name);
        paths.push(full.clone());
        if let Some(inner) = item.as_table_like() {
            list_paths(inner, &full, paths);
        }
    }
}

fn fields(kind: FileKind, text: &str) -> Vec<Field> {
    fn of<T>(loaded: Result<Loaded<T>, Vec<Fault>>) -> Vec<Field> {
        loaded.map_or_else(|_| Vec::new(), |loaded| loaded.fields)
    }
    match kind {
        FileKind::Instrument => of(check::<Instrument>(text)),
        FileKind::Target => of(check::<Target>(text)),
        FileKind::Hand => of(check::<Hand>(text)),
    }
}

fn faults(kind: FileKind, text: &str) -> Vec<Fault> {
    match kind {
        FileKind::Instrument => check::<Instrument>(text).err(),
        FileKind::Target => check::<Target>(text).err(),
        FileKind::Hand => check::<Hand>(text).err(),
    }
    .unwrap_or_default()
}

fn witnesses(kind: FileKind) -> Vec<Witness> {
    let header = format!("polso = \"{}\"\nformat = 1\n", kind.name());
    let witness =
        |body: &str, holds_for: Json| Witness { text: format!("{header}{body}"), holds_for };
    let derived = json!({ "required": ["based_on"] });
    let wind = json!({ "required": ["family"], "properties": { "family": { "const": "wind" } } });
    let by = json!({ "required": ["by"], "properties": { "by": { "const": "portamento" } } });
    let by_portamento = json!({ "required": ["transition"], "properties": { "transition": by } });
    match kind {
        FileKind::Instrument => vec![
            witness(
                &format!("family = \"bowed\"\n{ABOUT}{BOWED}{PLAYED}"),
                json!({ "not": { "anyOf": [derived, wind] } }),
            ),
            witness(
                &format!("family = \"wind\"\n{ABOUT}{BLOWN}{PLAYED}"),
                json!({ "not": derived, "allOf": [wind] }),
            ),
            witness(&format!("based_on = \"erhu\"\n{ABOUT}"), derived),
        ],
        FileKind::Target => vec![
            witness(&format!("{ABOUT}{RECEIVER}{BY_KEYS}"), json!(true)),
            witness(&format!("{ABOUT}{MEASURED}{BY_CONTROLLER}"), json!(true)),
            witness(&format!("{ABOUT}{MEASURED}{BY_PORTAMENTO}"), by_portamento),
        ],
        FileKind::Hand => vec![
            witness(&format!("{ABOUT}{HELD}response_k = 0\n"), json!(true)),
            witness(&format!("{ABOUT}{HELD}response = [[0, 0], [1, 1]]\n"), json!(true)),
        ],
    }
}

const ABOUT: &str = "[about]\nid = \"witness\"\nnames = { en = \"witness\" }\n";
const BOWED: &str = "[strings]\nopen_keys = [60]\nspan_semitones = [12]\nlength_m = 0.3\n\
    [bow]\npp_s = 9\nff_s = 1\n";
const BLOWN: &str = "[breath]\npp_s = 9\nff_s = 6\n";
const PLAYED: &str = "[range]\nhard_keys = [60, 80]\ncomfortable_keys = [60, 79]\n\
    [vibrato]\nstyles = [\"plain\", \"rolled\"]\ncentre = 0.9\n\
    [vibrato.rolled]\nwidth_cents = 40\nrate_hz = 6\n";
const RECEIVER: &str = "[outputs.dynamics]\naddress = \"cc 11\"\nhears = \"gm2\"\n\
    [outputs.expression]\naddress = \"cc 7\"\nhears = \"gm2\"\n\
    [outputs.vibrato_width]\naddress = \"cc 77\"\nresponse = 1\n\
    [outputs.vibrato_rate]\naddress = \"cc 76\"\nresponse = 1\n\
    [outputs.style]\naddress = \"cc 70\"\nresponse = 1\n\
    [outputs.send]\naddress = \"cc 91\"\nresponse = 1\n\
    [outputs.gesture]\naddress = \"cc 20\"\nresponse = 1\n\
    [outputs.brightness]\naddress = \"cc 74\"\nresponse = 1\n\
    [outputs.style_weight.rolled]\naddress = \"cc 21\"\nresponse = 1\n\
    [slide]\ntime = 40\n[transition]\nby = \"receiver\"\n[speed_velocity]\nslow = 20\nfast = 100\n";
const BY_KEYS: &str = "[legato]\nby = \"keyswitch\"\nfresh = 1\nquick = 2\njoined = 3\nslow = 4\n\
    slide = 5\n\
    [articulations]\nby = \"keyswitch\"\nusual = \"legato\"\nlegato = 6\nsul_ponticello = 7\n";
const MEASURED: &str = "[outputs.pitch]\naddress = \"pitch bend\"\n\
    [outputs.dynamics]\naddress = \"cc 11\"\nhears = [[0, -40], [127, 0]]\n\
    [outputs.expression]\naddress = \"cc 7\"\nhears = [[0, -40], [127, 0]]\n";
const BY_CONTROLLER: &str = "[legato]\nby = \"cc 20\"\njoined = 3\nslow = 4\n\
    [articulations]\nby = \"cc 21\"\npizzicato = 7\n";
const BY_PORTAMENTO: &str = "[transition]\nby = \"portamento\"\nportamento_ms = [[0, 1]]\n";
const HELD: &str = "[articulations]\npizzicato = 1\n[controller]\nsource = \"cc 1\"\n";
