//! What a file says first, what no file says, and what no module is called.

use super::{Finding, is_rust};

/// Marks of unfinished work. Written in two halves, so that this file keeps its own rule.
const FORBIDDEN: [&str; 8] = [
    concat!("TO", "DO"),
    concat!("FIX", "ME"),
    concat!("XX", "X"),
    concat!("#[ig", "nore"),
    concat!("to", "do!("),
    concat!("unimple", "mented!("),
    concat!("db", "g!("),
    concat!("allow(dead", "_code)"), // without a reason
];

/// Names that say nothing about what a module does.
const EMPTY_NAMES: [&str; 8] =
    ["util", "utils", "helper", "helpers", "manager", "managers", "common", "misc"];

/// The first line of a source file is one sentence.
pub fn first_sentence(path: &str, text: &str) -> Vec<Finding> {
    let first = text.lines().next().unwrap_or_default();
    let (begins, sentence) = if is_rust(path) {
        (first.starts_with("//! "), first)
    } else if path.ends_with(".py") {
        (first.starts_with("\"\"\""), first.trim_end_matches("\"\"\""))
    } else {
        return Vec::new();
    };
    // A long first sentence may go on in the next line of the same comment.
    let goes_on = text.lines().nth(1).is_some_and(|line| line.starts_with("//! "));
    if begins && (sentence.ends_with('.') || goes_on) {
        return Vec::new();
    }
    vec![(1, "the first line must be a sentence that says what the file does".to_string())]
}

/// No text file carries a mark of unfinished work.
pub fn forbidden_words(_: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (place, line) in text.lines().enumerate() {
        for word in FORBIDDEN.iter().filter(|word| line.contains(*word)) {
            findings.push((place + 1, format!("`{word}` marks unfinished work")));
        }
    }
    findings
}

/// No module has a name that says nothing.
pub fn module_names(path: &str, text: &str) -> Vec<Finding> {
    if !is_rust(path) {
        return Vec::new();
    }
    let mut findings = Vec::new();
    let named = path.trim_end_matches(".rs").split('/');
    for name in named.filter(|name| EMPTY_NAMES.contains(name)) {
        findings.push((1, format!("`{name}` says nothing about what the module does")));
    }
    for (place, line) in text.lines().enumerate() {
        let module = ["mod ", "pub mod ", "pub(crate) mod ", "pub(super) mod "]
            .iter()
            .find_map(|begin| line.trim_start().strip_prefix(begin));
        let name = module.and_then(|rest| rest.split([';', ' ']).next());
        if let Some(name) = name.filter(|name| EMPTY_NAMES.contains(name)) {
            findings.push((place + 1, format!("`{name}` says nothing about what the module does")));
        }
    }
    findings
}
