//! Which folder may know which: engine ← profile ← offline ← editor ← host and cli.

use super::module_text::ModuleText;
use super::rule::{Breach, is_rust};

/// Each folder and the folders that it must not know. What the engine knows, the next rule says.
const UNKNOWN_TO: [(&str, &[&str]); 5] = [
    ("src/profile/", &["offline", "host", "cli", "editor", "sound"]),
    ("src/sound/", &["profile", "offline", "host", "cli", "editor"]),
    ("src/offline/", &["host", "cli", "editor", "sound"]),
    ("src/editor/", &["host", "cli"]),
    ("src/host/", &["offline", "cli"]),
];

/// Where `use` begins in the engine, a crate of its own: with itself, core and the pinned
/// mathematics.
const ENGINE_ROOTS: [&str; 5] = ["core", "libm", "crate", "super", "self"];
/// What it must not name anywhere.
const ENGINE_STRANGERS: [&str; 4] = ["std", "alloc", "polso", "polso_engine"];

/// No folder uses one that stands after it, in its tests neither.
pub fn layers(path: &str, text: &str) -> Vec<Breach> {
    let Some((folder, unknown)) = UNKNOWN_TO.iter().find(|(folder, _)| path.starts_with(folder))
    else {
        return Vec::new();
    };
    let depth = depth(path);
    let mut breaches = Vec::new();
    for (used, depth, line) in used(text, depth) {
        let climbs = used.iter().take_while(|name| *name == "super").count();
        let is_root =
            matches!(used[0].as_str(), "crate" | "polso") || climbs > 0 && climbs == depth;
        let known = used.get(climbs.max(1)).filter(|_| is_root);
        if let Some(known) = known.filter(|known| unknown.contains(&known.as_str())) {
            breaches.push((line, format!("{folder} must not know {known}")));
        }
    }
    breaches
}

/// The engine knows nothing of std, alloc or the rest of the project. Its tests may.
pub fn engine_paths(path: &str, text: &str) -> Vec<Breach> {
    let is_test = path.contains("/tests/") || path.ends_with("/tests.rs");
    if !is_rust(path) || !path.starts_with("src/engine/") || is_test {
        return Vec::new();
    }
    let Ok(Some(module)) = ModuleText::read(text) else { return Vec::new() };
    let mut breaches = Vec::new();
    engine_module(&module, &mut breaches);
    breaches.sort();
    breaches.dedup();
    breaches
}

fn engine_module(module: &ModuleText, breaches: &mut Vec<Breach>) {
    let mut refuse = |line: usize| {
        breaches.push((line, "the engine knows only core, libm and itself".to_owned()));
    };
    let is_own = |name: &String| {
        module.children.iter().any(|child| child.name == *name)
            || module.imports.iter().any(|import| import.name.as_ref() == Some(name))
            || module.names.contains(name)
    };
    for import in &module.imports {
        let [root, rest @ ..] = &import.path[..] else { continue };
        // A name that `use` itself brings under the name of its crate is not the file's own.
        let is_own = is_own(root) && !rest.is_empty();
        if !ENGINE_ROOTS.contains(&root.as_str()) && !is_own {
            refuse(import.line);
        }
    }
    for (path, line) in &module.paths {
        if ENGINE_STRANGERS.contains(&path[0].as_str()) {
            refuse(*line);
        }
    }
    for line in &module.extern_crates {
        refuse(*line);
    }
    for inline in module.children.iter().filter_map(|child| child.inline.as_ref()) {
        engine_module(inline, breaches);
    }
}

/// Every path that a file uses, with how deep below the crate's root it stands, and its line.
fn used(text: &str, depth: usize) -> Vec<(Vec<String>, usize, usize)> {
    let Ok(module) = ModuleText::read_with_tests(text) else { return Vec::new() };
    let mut used = Vec::new();
    let mut modules = vec![(module, depth)];
    while let Some((module, depth)) = modules.pop() {
        let imports = module.imports.into_iter().map(|import| (import.path, import.line));
        used.extend(imports.chain(module.paths).map(|(path, line)| (path, depth, line)));
        let inline = module.children.into_iter().filter_map(|child| child.inline);
        modules.extend(inline.map(|inline| (inline, depth + 1)));
    }
    used.sort_by_key(|(.., line)| *line);
    used.retain(|(path, ..)| !path.is_empty());
    used
}

/// How many modules lie between the crate's root and the end of a path below `src`.
fn depth(path: &str) -> usize {
    path.trim_start_matches("src/").trim_end_matches("/mod.rs").split('/').count()
}
