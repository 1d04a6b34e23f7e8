//! One open file: its text as its author wrote it, what it means, and what is wrong with it.

use toml_edit::{Array, Value};

use crate::profile::form::Form;
use crate::profile::{Any, Document, Fault, Field, FileKind, Hand, Instrument, Target};

/// An open file. Its text may have faults; what plays is the last meaning without any.
#[derive(Clone, Debug)]
pub struct Sheet {
    text: String,
    meaning: Any,
    faults: Vec<Fault>,
}

impl Sheet {
    /// A file that can be used as it stands.
    ///
    /// # Errors
    /// Every fault of the text.
    pub fn open(text: &str) -> Result<Sheet, Vec<Fault>> {
        let meaning = Any::check(text.as_bytes())?;
        Ok(Sheet { text: text.to_owned(), meaning, faults: Vec::new() })
    }

    /// Takes another text of the same kind. One with faults is kept, and what played goes on.
    pub fn rewrite(&mut self, text: &str) {
        self.text = text.to_owned();
        match Any::check(text.as_bytes()) {
            Ok(meaning) if meaning.kind() == self.kind() => {
                self.meaning = meaning;
                self.faults.clear();
            }
            Ok(other) => {
                self.faults = vec![Fault {
                    line: None,
                    file: None,
                    field: "polso".to_owned(),
                    found: format!("{:?}", other.kind().name()),
                    allowed: format!("{:?}", self.kind().name()),
                }];
            }
            Err(faults) => self.faults = faults,
        }
    }

    /// The text, byte for byte.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Which of the three files it is.
    pub fn kind(&self) -> FileKind {
        self.meaning.kind()
    }

    /// What the last text without faults means.
    pub fn meaning(&self) -> &Any {
        &self.meaning
    }

    /// What is wrong with the present text.
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The instrument, if it is one.
    pub fn instrument(&self) -> Option<&Instrument> {
        self.meaning.instrument().map(|loaded| &loaded.profile)
    }

    /// The target, if it is one.
    pub fn target(&self) -> Option<&Target> {
        self.meaning.target().map(|loaded| &loaded.profile)
    }

    /// The hand, if it is one.
    pub fn hand(&self) -> Option<&Hand> {
        self.meaning.hand().map(|loaded| &loaded.profile)
    }

    /// A field by its dotted name, default or given.
    pub fn field(&self, path: &str) -> Option<&Field> {
        self.meaning.fields().iter().find(|field| field.path == path)
    }

    /// A field's number.
    pub fn number(&self, path: &str) -> Option<f64> {
        self.field(path)?.value.as_f64()
    }

    /// The breakpoints of a curve; of a level one there are two, at its ends.
    pub fn points(&self, path: &str) -> Option<Vec<(f64, f64)>> {
        let field = self.field(path)?;
        if let Some(level) = field.value.as_f64() {
            let ends = match field.form {
                Form::Curve { x, .. } => x,
                _ => (0.0, 1.0),
            };
            return Some(vec![(ends.0, level), (ends.1, level)]);
        }
        let pair =
            |pair: &serde_json::Value| Some((pair.get(0)?.as_f64()?, pair.get(1)?.as_f64()?));
        field.value.as_array()?.iter().map(pair).collect()
    }

    /// The text with another value in a field. A number of an instrument that is changed by hand
    /// is a judgement from then on, and its origin says so.
    pub fn with(&self, path: &str, setting: Setting) -> Option<String> {
        let document = Document::parse(&self.text).ok()?;
        let keys: Vec<&str> = path.split('.').collect();
        let text = document.with(&keys, setting)?;
        if let Some(rival) = rival(path) {
            // A hand has its response as points or as one number, never both.
            let rival: Vec<&str> = rival.split('.').collect();
            return Document::parse(&text).ok()?.without_key(&rival).or(Some(text));
        }
        if self.kind() != FileKind::Instrument {
            return Some(text);
        }
        let changed = Document::parse(&text).ok()?;
        let has_origin = changed.value(&["origin", path]).is_some();
        match has_origin {
            true => changed.with(&["origin", path], "L: set by hand"),
            false => Some(text),
        }
    }

    /// The text with a field as another text has it, its origin too; without it if that has none.
    pub fn with_field_of(&self, path: &str, other: &str) -> Option<String> {
        let keys: Vec<&str> = path.split('.').collect();
        let theirs = Document::parse(other).ok()?;
        let mut text = take_over(&self.text, &keys, &theirs)?;
        if let Some(rival) = rival(path) {
            let rival: Vec<&str> = rival.split('.').collect();
            text = take_over(&text, &rival, &theirs)?;
        }
        take_over(&text, &["origin", path], &theirs).or(Some(text))
    }
}

/// The field that a file may not have beside this one.
fn rival(path: &str) -> Option<&'static str> {
    match path {
        "controller.response" => Some("controller.response_k"),
        "controller.response_k" => Some("controller.response"),
        _ => None,
    }
}

fn take_over(text: &str, keys: &[&str], theirs: &Document) -> Option<String> {
    let mine = Document::parse(text).ok()?;
    match theirs.value(keys) {
        Some(value) => mine.with(keys, value.clone()),
        None => mine.without_key(keys).or_else(|| Some(text.to_owned())),
    }
}

/// A value to be set in a file.
#[derive(Clone, Debug, PartialEq)]
pub enum Setting {
    /// A number.
    Number(f64),
    /// True or false.
    Flag(bool),
    /// A word.
    Word(String),
    /// Numbers in a row.
    List(Vec<f64>),
    /// Breakpoints, or other pairs of numbers.
    Points(Vec<(f64, f64)>),
}

impl From<Setting> for Value {
    fn from(setting: Setting) -> Value {
        match setting {
            Setting::Number(number) => number_value(number),
            Setting::Flag(is_true) => Value::from(is_true),
            Setting::Word(word) => Value::from(word),
            Setting::List(numbers) => list_value(&numbers),
            Setting::Points(points) => {
                Value::Array(points.iter().map(|&(x, y)| list_value(&[x, y])).collect())
            }
        }
    }
}

/// A number as a file has it: as few digits as its value needs, at most four after the point.
fn number_value(value: f64) -> Value {
    let rounded = (value * 1e4).round() / 1e4;
    if rounded.fract() == 0.0 && rounded.abs() < 1e9 {
        Value::from(rounded as i64)
    } else {
        Value::from(rounded)
    }
}

fn list_value(numbers: &[f64]) -> Value {
    Value::Array(numbers.iter().map(|&number| number_value(number)).collect::<Array>())
}
