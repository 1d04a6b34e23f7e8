//! The modules of every crate of the project, and in which file a name that one of them uses is made.

use std::collections::HashMap;

use super::module_text::{Import, ModuleText};
use super::rule::{TextFile, is_rust};

/// The crates by the names that others call them by, and their first files. A crate that is not
/// there yet, or no longer, is left out.
const CRATES: [(&str, &str); 5] = [
    ("polso_engine", "src/engine/lib.rs"),
    ("polso", "src/lib.rs"),
    ("main", "src/main.rs"),
    ("xtask", "xtask/src/main.rs"),
    ("cost", "benches/cost/src/main.rs"),
];
/// Where the project's own code stands; tests may call and arrange their things as they like.
const OWN_FOLDERS: [&str; 3] = ["src/", "xtask/", "benches/"];

/// Every module that is no test.
#[derive(Default)]
pub struct ModuleTree {
    /// Paths of the files; a file is known by its place here.
    pub files: Vec<String>,
    pub modules: Vec<Module>,
    /// The first module of each crate, by its name.
    roots: HashMap<String, usize>,
}

/// One module, in a file of its own or not.
pub struct Module {
    pub file: usize,
    pub text: ModuleText,
    parent: Option<usize>,
    root: usize,
    children: HashMap<String, usize>,
}

/// What a path leads to: a module, or something that a file defines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Goal {
    Module(usize),
    File(usize),
}

impl ModuleTree {
    /// Reads the crates and the benches from their first files on. What cannot be read as Rust
    /// comes back as sentences with their paths.
    pub fn read(files: &[TextFile]) -> (ModuleTree, Vec<(String, String)>) {
        let texts: HashMap<&str, &str> =
            files.iter().map(|file| (file.path.as_str(), file.text.as_str())).collect();
        let mut reader = CrateReader { texts, tree: ModuleTree::default(), faults: Vec::new() };
        for (name, first) in CRATES {
            reader.add_root(name, first);
        }
        for TextFile { path, .. } in files {
            let name = path.strip_prefix("benches/").filter(|name| !name.contains('/'));
            if let Some(name) = name.filter(|name| is_rust(name)) {
                reader.add_root(name, path);
            }
        }
        (reader.tree, reader.faults)
    }

    /// What `path` leads to when it is written in a module: more than one goal only if a module
    /// and something else have one name. Other people's crates lead nowhere.
    pub fn resolve(&self, module: usize, path: &[String]) -> Vec<Goal> {
        let mut walk = Walk { file: self.modules[module].file, asked: Vec::new() };
        self.start(&mut walk, module, path)
    }

    /// What a name that stands in a module means there.
    pub fn look_up(&self, module: usize, name: &str) -> Vec<Goal> {
        self.resolve(module, &[name.to_owned()])
    }

    /// The file is no test's that a bench borrows.
    pub fn is_own(&self, file: usize) -> bool {
        OWN_FOLDERS.iter().any(|folder| self.files[file].starts_with(folder))
    }

    /// The file holds no more than a folder's modules, or may: what it hands on comes from elsewhere.
    pub fn is_folder(&self, file: usize) -> bool {
        let name = self.files[file].rsplit('/').next().unwrap_or_default();
        matches!(name, "mod.rs" | "lib.rs" | "main.rs")
    }

    /// Follows a path from its first name on, which may be a crate's.
    fn start(&self, walk: &mut Walk, module: usize, path: &[String]) -> Vec<Goal> {
        let Some((first, rest)) = path.split_first() else { return Vec::new() };
        let found = self.go(walk, module, path);
        match self.roots.get(first).filter(|_| found.is_empty()) {
            Some(root) => self.go(walk, *root, rest),
            None => found,
        }
    }

    fn go(&self, walk: &mut Walk, module: usize, path: &[String]) -> Vec<Goal> {
        let Some((first, rest)) = path.split_first() else { return vec![Goal::Module(module)] };
        let own = &self.modules[module];
        let goals = match first.as_str() {
            "crate" => vec![Goal::Module(own.root)],
            "self" => vec![Goal::Module(module)],
            "super" => own.parent.map(Goal::Module).into_iter().collect(),
            name => self.named(walk, module, name),
        };
        let inner = goals.iter().find_map(|goal| match goal {
            Goal::Module(module) => Some(*module),
            Goal::File(_) => None,
        });
        // The rest are variants, methods and the like.
        let Some(inner) = inner.filter(|_| !rest.is_empty()) else { return goals };
        let found = self.go(walk, inner, rest);
        // What nobody can see, since a macro makes it, is taken for the deepest module's own.
        if found.is_empty() { vec![Goal::File(self.modules[inner].file)] } else { found }
    }

    /// What a module means by a name.
    fn named(&self, walk: &mut Walk, module: usize, name: &str) -> Vec<Goal> {
        let question = (module, name.to_owned());
        if walk.asked.contains(&question) {
            return Vec::new();
        }
        walk.asked.push(question);
        let goals = self.found(walk, module, name);
        walk.asked.pop();
        goals
    }

    fn found(&self, walk: &mut Walk, module: usize, name: &str) -> Vec<Goal> {
        let own = &self.modules[module];
        let mut goals: Vec<Goal> =
            own.children.get(name).map(|child| Goal::Module(*child)).into_iter().collect();
        let mut found = |goal: Goal| {
            if !goals.contains(&goal) {
                goals.push(goal);
            }
        };
        if own.text.names.iter().any(|own| own == name) {
            found(Goal::File(own.file));
        }
        // A file that is no folder counts for what it hands on.
        let is_open = own.file == walk.file || self.is_folder(own.file);
        let called = |import: &&Import| import.name.as_deref() == Some(name);
        for import in own.text.imports.iter().filter(called) {
            for goal in self.start(walk, module, &import.path) {
                let is_item = matches!(goal, Goal::File(_));
                found(if is_open || !is_item { goal } else { Goal::File(own.file) });
            }
        }
        if goals.is_empty() {
            for import in own.text.imports.iter().filter(|import| import.name.is_none()) {
                goals.extend(self.through_star(walk, module, import, name));
            }
        }
        goals
    }

    /// What a name means that an import with `*` brings.
    fn through_star(
        &self,
        walk: &mut Walk,
        module: usize,
        import: &Import,
        name: &str,
    ) -> Vec<Goal> {
        let inner = self.start(walk, module, &import.path).into_iter();
        let inner = inner.filter_map(|goal| match goal {
            Goal::Module(inner) if inner != module => Some(self.named(walk, inner, name)),
            _ => None,
        });
        inner.flatten().collect()
    }
}

/// How a path is followed.
struct Walk {
    /// The file in which it is written.
    file: usize,
    /// What is being asked, so that names that lead to each other come to an end.
    asked: Vec<(usize, String)>,
}

/// The tree while it grows.
struct CrateReader<'a> {
    texts: HashMap<&'a str, &'a str>,
    tree: ModuleTree,
    faults: Vec<(String, String)>,
}

impl CrateReader<'_> {
    fn add_root(&mut self, name: &str, first: &str) {
        let folder = first.rsplit_once('/').map_or("", |(folder, _)| folder).to_owned();
        if let Some(text) = self.read(first) {
            let root = self.tree.modules.len();
            let file = self.file(first);
            self.add(file, text, None, &folder);
            self.tree.roots.insert(name.to_owned(), root);
        }
    }

    /// The text of a file; `None` if it is not there, no Rust, or all of it a test.
    fn read(&mut self, path: &str) -> Option<ModuleText> {
        let read = ModuleText::read(self.texts.get(path)?);
        read.unwrap_or_else(|sentence| {
            self.faults.push((path.to_owned(), sentence));
            None
        })
    }

    fn file(&mut self, path: &str) -> usize {
        let files = &mut self.tree.files;
        files.iter().position(|known| known == path).unwrap_or_else(|| {
            files.push(path.to_owned());
            files.len() - 1
        })
    }

    /// Adds a module and all below it; `folder` is where files of its children stand.
    fn add(
        &mut self,
        file: usize,
        mut text: ModuleText,
        parent: Option<usize>,
        folder: &str,
    ) -> usize {
        let place = self.tree.modules.len();
        let root = parent.map_or(place, |parent| self.tree.modules[parent].root);
        let children = std::mem::take(&mut text.children);
        self.tree.modules.push(Module { file, text, parent, root, children: HashMap::new() });
        for child in children {
            let below = format!("{folder}/{}", child.name);
            let added = match child.inline {
                Some(text) => Some(self.add(file, text, Some(place), &below)),
                None => {
                    let beside = self.tree.files[file].rsplit_once('/').map_or("", |it| it.0);
                    let paths = match &child.path {
                        Some(path) => vec![joined(beside, path)],
                        None => vec![format!("{below}.rs"), format!("{below}/mod.rs")],
                    };
                    paths.iter().find_map(|path| Some((path, self.read(path)?))).map(
                        |(path, text)| {
                            let file = self.file(path);
                            let is_folder = child.path.is_some() || path.ends_with("/mod.rs");
                            let own = path.rsplit_once('/').map_or("", |it| it.0);
                            let below = if is_folder { own } else { &below };
                            self.add(file, text, Some(place), below)
                        },
                    )
                }
            };
            if let Some(added) = added {
                self.tree.modules[place].children.insert(child.name, added);
            }
        }
        place
    }
}

/// A path from a folder, with its `..` taken out.
fn joined(folder: &str, path: &str) -> String {
    let mut names: Vec<&str> = folder.split('/').collect();
    for name in path.split('/') {
        match name {
            ".." => drop(names.pop()),
            name => names.push(name),
        }
    }
    names.join("/")
}
