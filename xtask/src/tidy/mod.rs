//! The project's own rules of tidiness: sizes, first sentences, names, words and directions.

mod directions;
mod sizes;
mod words;

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::steps::read;

/// A breach of a rule: the line, counted from 1, and one sentence.
type Finding = (usize, String);

/// One rule: it looks at a file's path and text and tells every breach.
type Rule = fn(&str, &str) -> Vec<Finding>;

const RULES: [Rule; 7] = [
    sizes::file_length,
    sizes::function_length,
    words::first_sentence,
    words::forbidden_words,
    words::module_names,
    directions::layers,
    directions::engine_paths,
];

/// Looks at every file of the project, prints every breach and fails if there is one.
pub fn check(root: &Path) -> Result<(), String> {
    let list = ["ls-files", "--cached", "--others", "--exclude-standard"];
    let list = read(Command::new("git").args(list).current_dir(root))?;
    let (mut files, mut breaches) = (0, 0);
    for path in list.lines() {
        // A file that is not text, or deleted and not yet committed, has no lines to look at.
        let Ok(text) = fs::read_to_string(root.join(path)) else { continue };
        files += 1;
        for (line, sentence) in findings(path, &text) {
            println!("{path}:{line}: {sentence}");
            breaches += 1;
        }
    }
    println!("{files} files looked at, {breaches} breaches");
    if files == 0 {
        return Err("git lists no file".to_string());
    }
    if breaches == 0 { Ok(()) } else { Err(format!("{breaches} breaches")) }
}

fn findings(path: &str, text: &str) -> Vec<Finding> {
    RULES.iter().flat_map(|rule| rule(path, text)).collect()
}

fn is_rust(path: &str) -> bool {
    path.ends_with(".rs")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lines on which the rules find something.
    #[track_caller]
    fn check(path: &str, text: &str, lines: &[usize]) {
        let found: Vec<usize> = findings(path, text).into_iter().map(|(line, _)| line).collect();
        assert_eq!(found, lines, "{path}: {text}");
    }

    /// A file that keeps every rule, with `body` under its first sentence.
    fn file(body: &str) -> String {
        format!("//! What the bow does.\n{body}")
    }

    #[test]
    fn a_tidy_file_has_no_findings() {
        check("src/engine/bow.rs", &file("use core::f64;\nuse super::event;\nfn a() {}\n"), &[]);
        check("README.md", "# Polso\n", &[]);
    }

    #[test]
    fn a_file_has_at_most_400_lines() {
        check("src/bow.rs", &file(&"\n".repeat(399)), &[]);
        check("src/bow.rs", &file(&"\n".repeat(400)), &[400]);
    }

    #[test]
    fn a_function_has_at_most_70_lines() {
        let function = |lines: usize| format!("    fn a() {{\n{}    }}\n", "\n".repeat(lines - 2));
        check("src/bow.rs", &file(&function(70)), &[]);
        check("src/bow.rs", &file(&function(71)), &[2]);
        check("src/bow.rs", &file(&function(71).replace("fn", "pub(crate) const fn")), &[2]);
        check("src/bow.rs", &file(&function(71).replace("fn", "pub unsafe extern \"C\" fn")), &[2]);
    }

    #[test]
    fn a_file_begins_with_one_sentence() {
        check("src/bow.rs", "use core::f64;\n", &[1]);
        check("src/bow.rs", "//! the bow\n", &[1]);
        check("tests/outside/read.py", "\"\"\"Reads the bow.\"\"\"\n", &[]);
        check("tests/outside/read.py", "import sys\n", &[1]);
    }

    #[test]
    fn unfinished_work_is_found_in_any_file() {
        check("README.md", concat!("a\nTO", "DO: b\n"), &[2]);
        check("src/bow.rs", &file(concat!("#[ig", "nore]\n")), &[2]);
        check("src/bow.rs", &file(concat!("fn a() { to", "do!() }\n")), &[2]);
    }

    #[test]
    fn a_module_is_named_for_what_it_does() {
        check("src/engine/utils.rs", &file(""), &[1]);
        check("src/helpers/bow.rs", &file(""), &[1]);
        check("src/bow.rs", &file("mod manager {\n}\n"), &[2]);
        check("src/uncommon.rs", &file(""), &[]);
    }

    #[test]
    fn the_engine_knows_only_core_and_libm() {
        for line in [
            "use std::f64;",
            "extern crate alloc;",
            "let x = alloc::vec![1];",
            "use crate::engine::event;",
            "use polso::engine;",
            "use serde::Serialize;",
        ] {
            check("src/engine/bow.rs", &file(&format!("{line}\n")), &[2]);
        }
        for line in ["// std::f64 is not here", "use libm::exp;", "use self::bow::Bow;"] {
            check("src/engine/bow.rs", &file(&format!("{line}\n")), &[]);
        }
        check("src/engine/bow.rs", &file("#[cfg(test)]\nmod tests {\nuse std::f64;\n}\n"), &[]);
    }

    #[test]
    fn folders_know_only_what_stands_before_them() {
        check("src/profile/bow.rs", &file("use crate::engine::Section;\n"), &[]);
        check("src/profile/bow.rs", &file("use crate::offline::shape;\n"), &[2]);
        check("src/offline/bow.rs", &file("use crate::host::Host;\n"), &[2]);
        check("src/offline/bow.rs", &file("use crate::{cli, engine};\n"), &[2]);
        check("src/host/bow.rs", &file("use crate::offline::shape;\n"), &[2]);
        check("src/cli/bow.rs", &file("use crate::offline::shape;\n"), &[]);
    }
}
