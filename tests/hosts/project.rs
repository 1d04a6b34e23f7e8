//! A project as a host keeps it, and what of it is the plugin's own.

use polso::profile::shipped::SHIPPED;
use serde_json::{Value, json};

use super::clap::{Clap, NOTE_EFFECT};

/// The text of a shipped file.
pub fn text(id: &str) -> &'static str {
    SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text
}

/// What a host would store for a project text (JSON) and controls.
pub fn project(text: &str, params: &Value) -> Vec<u8> {
    with_length(&stored(text, params))
}

/// The same in VST3, which says no length.
pub fn stored(text: &str, params: &Value) -> Vec<u8> {
    let fields = json!({ "state": Value::String(text.to_owned()).to_string() });
    json!({ "version": "0.1.0", "params": params, "fields": fields }).to_string().into_bytes()
}

/// Bytes as CLAP keeps them, behind their length.
pub fn with_length(text: &[u8]) -> Vec<u8> {
    [&(text.len() as u64).to_le_bytes(), text].concat()
}

/// The project text inside what a host stores.
pub fn kept(bytes: &[u8]) -> String {
    let whole: Value = serde_json::from_slice(&bytes[8..]).expect("the framework writes JSON");
    let field = whole["fields"]["state"].as_str().expect("a field");
    serde_json::from_str(field).expect("a text")
}

/// A plugin that has been given a project, before it is activated.
pub fn opened(bytes: &[u8]) -> Clap {
    let mut clap = Clap::load(NOTE_EFFECT);
    assert!(clap.restore(bytes), "it takes the project");
    clap.activate(48_000.0);
    clap
}
