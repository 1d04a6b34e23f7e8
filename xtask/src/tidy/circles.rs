//! No file needs a file that needs it: files are read one after the other, so there is a first one.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::module_tree::{Goal, Module, ModuleTree};
use super::rule::Breach;

/// For each file the files that it imports from, with the first line that does.
type Imports = Vec<BTreeMap<usize, usize>>;

/// Every circle of files, at the first line of its first file. Circles that only go along ways
/// of others are left out.
pub fn circles(tree: &ModuleTree) -> Vec<(String, Breach)> {
    let imports = imports(tree);
    let mut seen: BTreeSet<(usize, usize)> = BTreeSet::new();
    let mut breaches = Vec::new();
    for (from, to) in edges(&imports) {
        if seen.contains(&(from, to)) {
            continue;
        }
        let Some(back) = way(&imports, to, from) else { continue };
        let mut circle = [&[from], &back[..back.len() - 1]].concat();
        let least = (0..circle.len()).min_by_key(|place| &tree.files[circle[*place]]);
        circle.rotate_left(least.unwrap_or(0));
        let next = |place: usize| circle[(place + 1) % circle.len()];
        seen.extend((0..circle.len()).map(|place| (circle[place], next(place))));
        let said = |place: usize| {
            let (file, line) = (circle[place], imports[circle[place]][&next(place)]);
            format!("{}:{line} → ", tree.files[file])
        };
        let circle_said: String = (0..circle.len()).map(said).collect();
        let first = &tree.files[circle[0]];
        let sentence = format!("circle of files: {circle_said}{first}");
        breaches.push((first.clone(), (imports[circle[0]][&next(0)], sentence)));
    }
    breaches.sort();
    breaches
}

fn edges(imports: &Imports) -> impl Iterator<Item = (usize, usize)> {
    imports.iter().enumerate().flat_map(|(from, all)| all.keys().map(move |to| (from, *to)))
}

/// The shortest way from one file to another along imports, both ends included.
fn way(imports: &Imports, from: usize, to: usize) -> Option<Vec<usize>> {
    let mut before: BTreeMap<usize, usize> = BTreeMap::from([(from, from)]);
    let mut queue = VecDeque::from([from]);
    while let Some(file) = queue.pop_front() {
        if file == to {
            let mut way = vec![to];
            while way[way.len() - 1] != from {
                way.push(before[&way[way.len() - 1]]);
            }
            way.reverse();
            return Some(way);
        }
        for next in imports[file].keys() {
            before.entry(*next).or_insert_with(|| {
                queue.push_back(*next);
                file
            });
        }
    }
    None
}

fn imports(tree: &ModuleTree) -> Imports {
    let mut imports: Imports = vec![BTreeMap::new(); tree.files.len()];
    for (place, module) in tree.modules.iter().enumerate() {
        for (line, goals) in needed(tree, place, module) {
            for goal in goals {
                if let Goal::File(file) = goal
                    && file != module.file
                    && tree.is_own(file)
                {
                    let first = imports[module.file].entry(file).or_insert(line);
                    *first = (*first).min(line);
                }
            }
        }
    }
    imports
}

/// What a module needs, with the lines that say so.
fn needed(tree: &ModuleTree, place: usize, module: &Module) -> Vec<(usize, Vec<Goal>)> {
    let text = &module.text;
    let mut needed: Vec<(usize, Vec<Goal>)> = Vec::new();
    for import in &text.imports {
        // What a folder hands on it need not use itself; if it does, the use counts.
        let is_handed_on = import.is_public && tree.is_folder(module.file);
        if !is_handed_on && import.name.is_some() {
            needed.push((import.line, tree.resolve(place, &import.path)));
        }
    }
    for (path, line) in &text.paths {
        needed.push((*line, tree.resolve(place, path)));
    }
    for (name, line) in &text.lone {
        needed.push((*line, tree.look_up(place, name)));
    }
    needed
}
