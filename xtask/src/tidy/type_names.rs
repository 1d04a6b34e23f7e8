//! A type's name means one thing in the whole project, so that whoever searches it finds that thing.

use std::collections::{BTreeMap, BTreeSet};

use super::module_tree::ModuleTree;
use super::rule::Breach;

/// Every name that two files give to a type, a trait or an alias, in each of these files.
pub fn type_names(tree: &ModuleTree) -> Vec<(String, Breach)> {
    let mut places: BTreeMap<&str, BTreeSet<(&str, usize)>> = BTreeMap::new();
    for module in &tree.modules {
        let path = tree.files[module.file].as_str();
        if tree.is_own(module.file) {
            for (name, line) in &module.text.types {
                places.entry(name).or_default().insert((path, *line));
            }
        }
    }
    let mut breaches = Vec::new();
    for (name, places) in &places {
        let files: BTreeSet<&str> = places.iter().map(|(path, _)| *path).collect();
        for (path, line) in places.iter().filter(|_| files.len() > 1) {
            let others: Vec<&str> = files.iter().copied().filter(|other| other != path).collect();
            let sentence = format!("`{name}` means something else in {}", others.join(", "));
            breaches.push(((*path).to_owned(), (*line, sentence)));
        }
    }
    breaches
}
