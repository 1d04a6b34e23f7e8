//! What a file says first, what no file says, and what no module is called.

use super::rule::{Breach, is_rust};

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

/// Names that nobody would search for: whoever wants to know how numbers are thinned out looks for
/// `thinning`. Of the modules in `src` alone.
const RIDDLES: [&str; 21] = [
    "told", "thrift", "wire", "moment", "quick", "gap", "strike", "rind", "weave", "ledger",
    "loom", "glass", "pane", "guard", "desk", "bank", "pair", "link", "attend", "figure", "sheet",
];

/// The first line of a source file is one sentence.
pub fn first_sentence(path: &str, text: &str) -> Vec<Breach> {
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
pub fn forbidden_words(_: &str, text: &str) -> Vec<Breach> {
    let mut breaches = Vec::new();
    for (place, line) in text.lines().enumerate() {
        for word in FORBIDDEN.iter().filter(|word| line.contains(*word)) {
            breaches.push((place + 1, format!("`{word}` marks unfinished work")));
        }
    }
    breaches
}

/// No module has a name that says nothing, or one that nobody would guess.
pub fn module_names(path: &str, text: &str) -> Vec<Breach> {
    if !is_rust(path) {
        return Vec::new();
    }
    let is_riddle = |name: &str| path.starts_with("src/") && RIDDLES.contains(&name);
    let mut breaches = Vec::new();
    let mut look = |line: usize, name: &str| {
        if EMPTY_NAMES.contains(&name) {
            breaches.push((line, format!("`{name}` says nothing about what the module does")));
        } else if is_riddle(name) {
            breaches.push((line, format!("nobody would search for `{name}`")));
        }
    };
    path.trim_end_matches(".rs").split('/').for_each(|name| look(1, name));
    for (place, line) in text.lines().enumerate() {
        let module = ["mod ", "pub mod ", "pub(crate) mod ", "pub(super) mod "]
            .iter()
            .find_map(|begin| line.trim_start().strip_prefix(begin));
        // A module in a file of its own is found by its path.
        let inline = module.and_then(|rest| rest.strip_suffix(" {"));
        if let Some(name) = inline {
            look(place + 1, name);
        }
    }
    breaches
}
