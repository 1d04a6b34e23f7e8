//! Which folder may know which: engine ← profile ← offline ← editor ← host and cli.

use super::{Finding, is_rust};

/// Each folder and the folders of the same crate that it must not know.
const UNKNOWN_TO: [(&str, &[&str]); 5] = [
    ("src/engine/", &["profile", "offline", "host", "cli", "editor"]),
    ("src/profile/", &["offline", "host", "cli", "editor"]),
    ("src/offline/", &["host", "cli", "editor"]),
    ("src/editor/", &["host", "cli"]),
    ("src/host/", &["offline", "cli"]),
];

/// Roots of paths that the engine may use: its own, core's and the pinned mathematics.
const ENGINE_ROOTS: [&str; 4] = ["core", "libm", "super", "self"];

/// No folder uses one that stands after it.
pub fn layers(path: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    let Some((folder, unknown)) = UNKNOWN_TO.iter().find(|(folder, _)| path.starts_with(folder))
    else {
        return findings;
    };
    // Inside the engine `crate` is refused altogether, by the next rule.
    for (line, code) in code(text).filter(|_| *folder != "src/engine/") {
        for part in code.split("crate::").skip(1) {
            let names: Vec<&str> = match part.strip_prefix('{') {
                Some(group) => group.split([',', '}']).map(str::trim).collect(),
                None => vec![part],
            };
            let root = |name: &&str| {
                let end = name.find(|c: char| !c.is_alphanumeric() && c != '_');
                name[..end.unwrap_or(name.len())].to_string()
            };
            for name in names.iter().map(root).filter(|name| unknown.contains(&name.as_str())) {
                findings.push((line, format!("{folder} must not know {name}")));
            }
        }
    }
    findings
}

/// The engine's paths begin with `core`, `libm`, `super` or `self`, or name something that one
/// of these brought in; nothing of std, alloc or the rest of the crate.
pub fn engine_paths(path: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !is_rust(path) || !path.starts_with("src/engine/") {
        return findings;
    }
    for (line, code) in code(text).take_while(|(_, code)| code.trim() != "#[cfg(test)]") {
        let code = code.trim();
        let stranger = ["std::", "alloc::", "crate::", "extern crate", "polso::"]
            .iter()
            .any(|word| code.match_indices(word).any(|(at, _)| is_word_start(code, at)));
        let used = code.strip_prefix("pub ").unwrap_or(code).strip_prefix("use ");
        let root = used.map(|used| used.split([':', ';', ' ']).next().unwrap_or_default());
        let is_foreign = root.is_some_and(|root| {
            !ENGINE_ROOTS.contains(&root) && !text.contains(&format!("mod {root};"))
        });
        if stranger || is_foreign {
            let sentence = "the engine knows only core and libm, and itself by `super::`";
            findings.push((line, sentence.to_string()));
        }
    }
    findings
}

/// The lines of code with their numbers, without comments.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines().enumerate().map(|(place, line)| {
        let end = line.find("//").unwrap_or(line.len());
        (place + 1, &line[..end])
    })
}

fn is_word_start(code: &str, at: usize) -> bool {
    !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_')
}
