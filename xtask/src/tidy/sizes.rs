//! Files and functions stay short enough to be read in one go.

use super::rule::{Breach, is_rust};

const FILE_LINES_MAX: usize = 400;
const FUNCTION_LINES_MAX: usize = 70;

/// A Rust file has at most 400 lines.
pub fn file_length(path: &str, text: &str) -> Vec<Breach> {
    let count = text.lines().count();
    if is_rust(path) && count > FILE_LINES_MAX {
        return vec![(FILE_LINES_MAX, format!("the file has {count} lines; allowed is 400"))];
    }
    Vec::new()
}

/// A function has at most 70 lines. The text is formatted, so the brace that closes a function
/// stands exactly below the beginning of its first line.
pub fn function_length(path: &str, text: &str) -> Vec<Breach> {
    let mut breaches = Vec::new();
    if !is_rust(path) {
        return breaches;
    }
    let lines: Vec<&str> = text.lines().collect();
    for (first, line) in lines.iter().enumerate() {
        let body = line.trim_start();
        if !begins_function(body) {
            continue;
        }
        let indent = line.len() - body.len();
        let ends = |line: &&str| line.trim_start().len() + indent == line.len();
        let last = lines[first..].iter().position(|line| {
            let closes = line.trim() == "}" && ends(line);
            closes || (ends(line) && (line.ends_with(" }") || line.ends_with(';')))
        });
        let length = last.map_or(lines.len() - first, |last| last + 1);
        if length > FUNCTION_LINES_MAX {
            let sentence = format!("the function has {length} lines; allowed is 70");
            breaches.push((first + 1, sentence));
        }
    }
    breaches
}

/// True for `fn`, also behind `pub`, `const`, `unsafe` and the like.
fn begins_function(line: &str) -> bool {
    let prefixes = ["pub", "const", "unsafe", "async", "extern", "\"C\""];
    for word in line.split_whitespace() {
        if word == "fn" {
            return true;
        }
        if !prefixes.contains(&word) && !word.starts_with("pub(") {
            return false;
        }
    }
    false
}
