//! Keeps the README true: every command that it shows is run, and must print what stands there.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::steps::cargo_command;

/// How the README calls the program.
const CALLS: [&str; 2] = ["cargo run --release -- ", "polso "];
/// A line that stands for any number of lines.
const AND_SO_ON: &str = "...";
/// The fence of a block with commands and what they print.
const FENCE: &str = "```console";

/// The picture that the README shows, and the one that its own command draws.
const SHOWN: &str = "examples/last-ferry.svg";
const DRAWN: &str = "target/readme/last-ferry.svg";

/// A piece of the README: a command with the lines below it, or one line of anything else.
#[derive(Debug, PartialEq)]
enum Piece {
    Line(String),
    Command { words: Vec<String>, said: String, output: Vec<String> },
}

/// Runs every command; fails at the first that prints something else.
pub fn check(root: &Path) -> Result<(), String> {
    let text = text(root)?;
    let fresh = renewed(root, &text)?;
    if fresh == text {
        return match picture(&root.join(SHOWN))? == picture(&root.join(DRAWN))? {
            true => Ok(()),
            false => Err(format!("{SHOWN} is not what is drawn today; run cargo xtask readme")),
        };
    }
    let pairs = text.lines().zip(fresh.lines());
    let place = pairs.take_while(|(old, new)| old == new).count();
    let [old, new] = [&text, &fresh].map(|text| text.lines().nth(place).unwrap_or("nothing"));
    Err(format!(
        "README.md:{}: shown `{old}`, printed `{new}`; if the new is right, run cargo xtask readme",
        place + 1
    ))
}

/// Runs every command and writes what it prints into the README.
pub fn renew(root: &Path) -> Result<(), String> {
    let fresh = renewed(root, &text(root)?)?;
    fs::write(root.join("README.md"), fresh).map_err(|error| format!("README.md: {error}"))?;
    let drawn = picture(&root.join(DRAWN))?;
    fs::write(root.join(SHOWN), drawn).map_err(|error| format!("{SHOWN}: {error}"))
}

fn picture(path: &Path) -> Result<String, String> {
    fs::read_to_string(path).map_err(|error| format!("{}: {error}", path.display()))
}

fn text(root: &Path) -> Result<String, String> {
    fs::read_to_string(root.join("README.md")).map_err(|error| format!("README.md: {error}"))
}

/// The README with what its commands print today, run in order in a folder that holds only the
/// examples.
fn renewed(root: &Path, text: &str) -> Result<String, String> {
    let folder = root.join("target/readme");
    let _ = fs::remove_dir_all(&folder);
    copy_takes(&root.join("examples"), &folder.join("examples"))
        .map_err(|error| format!("target/readme: {error}"))?;
    let manifest = root.join("Cargo.toml");
    let mut count = 0;
    let mut lines: Vec<String> = Vec::new();
    for piece in pieces(text)? {
        match piece {
            Piece::Line(line) => lines.push(line),
            Piece::Command { words, said, output } => {
                let mut command = cargo_command();
                command.args(["run", "--quiet", "--release", "--locked", "--manifest-path"]);
                command.arg(&manifest).arg("--").args(&words).current_dir(&folder);
                let printed = printed(&mut command)?;
                let printed: Vec<String> = printed.lines().map(String::from).collect();
                lines.push(said);
                lines.extend(if agrees(&output, &printed) { output } else { printed });
                count += 1;
            }
        }
    }
    println!("{count} commands of the README run");
    if count == 0 {
        return Err("the README shows no command".to_string());
    }
    Ok(lines.join("\n") + "\n")
}

/// What the program prints when all is fine, or when it has found something (1).
fn printed(command: &mut Command) -> Result<String, String> {
    let output = command.output().map_err(|error| format!("cargo cannot run: {error}"))?;
    match output.status.code() {
        Some(0 | 1) => Ok(String::from_utf8_lossy(&output.stdout).into_owned()),
        _ => Err(String::from_utf8_lossy(&output.stderr).into_owned()),
    }
}

/// Copies the recorded takes.
fn copy_takes(from: &Path, to: &Path) -> std::io::Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let path = entry?.path();
        if let Some(name) = path.file_name().filter(|_| path.is_file()) {
            fs::copy(&path, to.join(name))?;
        }
    }
    Ok(())
}

/// Takes the README apart.
fn pieces(text: &str) -> Result<Vec<Piece>, String> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut in_block = false;
    for (place, line) in text.lines().enumerate() {
        if line.starts_with("```") {
            in_block = line == FENCE;
            pieces.push(Piece::Line(line.to_string()));
        } else if let Some(command) = line.strip_prefix("$ ").filter(|_| in_block) {
            let call = CALLS.iter().find_map(|call| command.strip_prefix(call));
            let call = call.ok_or(format!("README.md:{}: not the program's call", place + 1))?;
            let words = call.split_whitespace().map(String::from).collect();
            pieces.push(Piece::Command { words, said: line.to_string(), output: Vec::new() });
        } else if let Some(Piece::Command { output, .. }) = pieces.last_mut() {
            output.push(line.to_string());
        } else {
            pieces.push(Piece::Line(line.to_string()));
        }
    }
    Ok(pieces)
}

/// Whether the lines are as shown; `...` stands for any number of them.
fn agrees(shown: &[String], printed: &[String]) -> bool {
    match (shown.split_first(), printed.split_first()) {
        (None, None) => true,
        (Some((line, rest)), _) if line == AND_SO_ON => {
            (0..=printed.len()).any(|skipped| agrees(rest, &printed[skipped..]))
        }
        (Some((line, rest)), Some((first, others))) => line == first && agrees(rest, others),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<String> {
        text.lines().map(String::from).collect()
    }

    #[test]
    fn commands_are_found_with_what_they_print() {
        let text = "text\n```console\n$ polso list --json\na\nb\n```\n```sh\n$ other\n```\n";
        let command = Piece::Command {
            words: lines("list\n--json"),
            said: "$ polso list --json".to_string(),
            output: lines("a\nb"),
        };
        let line = |text: &str| Piece::Line(text.to_string());
        let rest = ["```", "```sh", "$ other", "```"].map(line);
        let expected = [line("text"), line("```console"), command].into_iter().chain(rest);
        assert_eq!(pieces(text), Ok(expected.collect()));
        assert!(pieces("```console\n$ ls\n```\n").is_err());
    }

    #[test]
    fn a_line_that_changed_is_noticed() {
        let check = |shown: &str, printed: &str| agrees(&lines(shown), &lines(printed));
        assert!(check("a\nb", "a\nb"));
        assert!(check("a\n...", "a\nb\nc"));
        assert!(check("...\nc", "a\nb\nc"));
        assert!(!check("a\nb", "a\nc"));
        assert!(!check("a", "a\nb"));
        assert!(!check("a\nb", "a"));
        assert!(!check("...\nb", "a\nb\nc"));
    }
}
