//! The project's own rules of tidiness: sizes, first sentences, names, words, directions, circles.

mod rule;

mod sizes;
mod words;

mod module_text;

mod directions;

mod module_tree;

mod circles;
mod type_names;

#[cfg(test)]
mod tests;

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::steps::read;
use module_tree::ModuleTree;
use rule::{Breach, TextFile};

/// A rule for one file: it looks at path and text and tells every breach.
type FileRule = fn(&str, &str) -> Vec<Breach>;
/// A rule for all modules together: breaches with the paths of their files.
type TreeRule = fn(&ModuleTree) -> Vec<(String, Breach)>;

const FILE_RULES: [FileRule; 7] = [
    sizes::file_length,
    sizes::function_length,
    words::first_sentence,
    words::forbidden_words,
    words::module_names,
    directions::layers,
    directions::engine_paths,
];
const TREE_RULES: [TreeRule; 2] = [circles::circles, type_names::type_names];

/// Looks at every file of the project, prints every breach in files whose paths begin with `under`
/// and fails if there is one.
pub fn check(root: &Path, under: &str) -> Result<(), String> {
    let list = ["ls-files", "--cached", "--others", "--exclude-standard"];
    let list = read(Command::new("git").args(list).current_dir(root))?;
    // A file that is not text, or deleted and not yet committed, has no lines to look at.
    let text = |path: &str| fs::read_to_string(root.join(path)).ok();
    let file = |path: &str| Some(TextFile { path: path.to_owned(), text: text(path)? });
    let files: Vec<TextFile> = list.lines().filter_map(file).collect();
    if files.is_empty() {
        return Err("git lists no file".to_string());
    }
    let mut breaches = breaches(&files);
    breaches.retain(|(path, _)| path.starts_with(under));
    for (path, (line, sentence)) in &breaches {
        println!("{path}:{line}: {sentence}");
    }
    println!("{} files looked at, {} breaches", files.len(), breaches.len());
    if breaches.is_empty() { Ok(()) } else { Err(format!("{} breaches", breaches.len())) }
}

/// Every breach of every rule, by path and line.
fn breaches(files: &[TextFile]) -> Vec<(String, Breach)> {
    let mut breaches = Vec::new();
    for TextFile { path, text } in files {
        let found = FILE_RULES.iter().flat_map(|rule| rule(path, text));
        breaches.extend(found.map(|breach| (path.clone(), breach)));
    }
    let (tree, faults) = ModuleTree::read(files);
    breaches.extend(faults.into_iter().map(|(path, sentence)| (path, (1, sentence))));
    breaches.extend(TREE_RULES.iter().flat_map(|rule| rule(&tree)));
    breaches.sort();
    breaches
}
