//! Breaks the engine in one small way after the other and looks whether its tests notice.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::steps::{cargo_command, read};

/// What became of a mutant: the name of the list in which `cargo mutants` keeps it.
const OUTCOMES: [&str; 4] = ["caught", "missed", "timeout", "unviable"];
/// The folder that `cargo mutants` fills.
const LAST: &str = "mutants.out";
/// `cargo mutants` ends so when all were caught, when some were missed, and when some hung.
const ENDS_WELL: [i32; 3] = [0, 2, 3];
const HINT: &str = "cargo install cargo-mutants --locked brings it";

/// Tries every so many of a package's mutants: `SHARD/COUNT`, the shard counted from 0. What has
/// been tried stays in `target/mutants`, so that a run that was stopped goes on; when all are
/// tried, the missed ones are tried again.
pub fn mutants(root: &Path, shard: &str, package: &str) -> Result<(), String> {
    let folder = root.join("target/mutants").join(package).join(shard.replace('/', "-of-"));
    fs::create_dir_all(&folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let all = names(root, package, &[])?;
    let chosen = names(root, package, &["--sharding", "round-robin", "--shard", shard])?;
    let mut tried = harvest(&folder)?;
    let is_missed = |name: &&String| tried.get(*name).is_some_and(|outcome| outcome == "missed");
    let mut next: Vec<&String> = chosen.iter().filter(|name| !tried.contains_key(*name)).collect();
    if next.is_empty() {
        next = chosen.iter().filter(is_missed).collect();
    }
    println!("{} of {} mutants are to be tried", next.len(), chosen.len());
    if !next.is_empty() {
        let others = all.iter().filter(|name| !next.contains(name)).cloned().collect();
        try_others_than(root, &folder, package, others)?;
        tried = harvest(&folder)?;
    }
    tell(&chosen, &tried);
    Ok(())
}

/// The names of a package's mutants, all or those that `words` choose.
fn names(root: &Path, package: &str, words: &[&str]) -> Result<Vec<String>, String> {
    let mut command = cargo_command();
    command.args(["mutants", "--list", "--colors", "never", "--package", package]);
    let names = read(command.args(words).current_dir(root));
    let names = names.map_err(|error| format!("{error}; {HINT}"))?;
    let names: Vec<String> = names.lines().map(str::to_owned).collect();
    if names.is_empty() { Err(format!("{package} has no mutants")) } else { Ok(names) }
}

/// Tries all mutants but these. `cargo mutants` takes names only as those of mutants that were
/// caught before, which it leaves out; its patterns do not reach every kind.
fn try_others_than(
    root: &Path,
    folder: &Path,
    package: &str,
    names: Vec<String>,
) -> Result<(), String> {
    let last = folder.join(LAST);
    let told = |error: std::io::Error| format!("{}: {error}", last.display());
    if last.exists() {
        fs::remove_dir_all(&last).map_err(told)?;
    }
    fs::create_dir_all(&last).map_err(told)?;
    fs::write(last.join("previously_caught.txt"), names.join("\n")).map_err(told)?;
    let mut command = cargo_command();
    command.args(["mutants", "--package", package, "--colors", "never", "--iterate"]);
    // Else every mutant that leaves a value unused would be refused for that.
    command.args(["--cap-lints", "true", "--output"]).arg(folder).current_dir(root);
    let status = command.status().map_err(|error| format!("cargo cannot run: {error}"))?;
    match status.code().filter(|code| ENDS_WELL.contains(code)) {
        Some(_) => Ok(()),
        None => Err(format!("`cargo mutants` ended with {status}; {HINT}")),
    }
}

/// What has been tried so far, by name: the kept list, and what the last run has left, which goes
/// into the list.
fn harvest(folder: &Path) -> Result<BTreeMap<String, String>, String> {
    let list = folder.join("tried.txt");
    let text = |path: &Path| fs::read_to_string(path).unwrap_or_default();
    let mut tried = BTreeMap::new();
    for line in text(&list).lines() {
        if let Some((outcome, name)) = line.split_once(' ') {
            tried.insert(name.to_owned(), outcome.to_owned());
        }
    }
    let last = folder.join(LAST);
    for outcome in OUTCOMES {
        for name in text(&last.join(outcome).with_extension("txt")).lines() {
            tried.insert(name.to_owned(), outcome.to_owned());
        }
    }
    let kept: String = tried.iter().map(|(name, outcome)| format!("{outcome} {name}\n")).collect();
    fs::write(&list, kept).map_err(|error| format!("{}: {error}", list.display()))?;
    Ok(tried)
}

/// Prints how many of the shard's mutants came to what, and every one that was missed.
fn tell(chosen: &[String], tried: &BTreeMap<String, String>) {
    let of = |outcome: &'static str| {
        chosen.iter().filter(move |name| tried.get(*name).is_some_and(|own| own == outcome))
    };
    of("missed").for_each(|name| println!("missed: {name}"));
    let [caught, missed, timeout, unviable] = OUTCOMES.map(|outcome| of(outcome).count());
    let noticed = caught + timeout;
    let percent = 100.0 * noticed as f64 / (noticed + missed).max(1) as f64;
    println!(
        "{} mutants: {caught} caught, {timeout} hung and were noticed by that, {missed} missed, \
         {unviable} unviable: {percent:.1} % of the viable ones are noticed",
        chosen.len()
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_that_was_stopped_is_gone_on_with() {
        let folder = std::env::temp_dir().join(format!("polso-mutants-{}", std::process::id()));
        let last = folder.join(LAST);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&last).expect("a folder");
        fs::write(last.join("caught.txt"), "a.rs:1:2: x\n").expect("a file");
        fs::write(last.join("missed.txt"), "b.rs:1:2: x\n").expect("a file");
        let pairs = |tried: &BTreeMap<String, String>| {
            tried.iter().map(|(name, outcome)| format!("{outcome} {name}")).collect::<Vec<_>>()
        };
        let first = harvest(&folder).expect("what was tried");
        assert_eq!(pairs(&first), ["caught a.rs:1:2: x", "missed b.rs:1:2: x"]);
        // The next run tries the missed one again, and leaves a list of its own.
        fs::remove_file(last.join("missed.txt")).expect("a file");
        fs::write(last.join("caught.txt"), "b.rs:1:2: x\n").expect("a file");
        let second = harvest(&folder).expect("what was tried");
        assert_eq!(pairs(&second), ["caught a.rs:1:2: x", "caught b.rs:1:2: x"]);
        fs::remove_dir_all(&folder).expect("a folder");
    }
}
