//! Which files a batch takes, and where each one's result goes: no two to one place.

use std::collections::{HashMap, HashSet};
use std::ffi::OsStr;
use std::fs;
use std::path::{Component, Path, PathBuf};

use polso::offline::stored_take::place_beside;

/// The endings of MIDI files, in small letters.
const ENDINGS: [&str; 2] = ["mid", "midi"];

/// One file and where its result goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Job {
    pub input: PathBuf,
    pub output: PathBuf,
}

/// Several inputs, or a folder of them, are a batch.
pub fn is_batch(inputs: &[PathBuf]) -> bool {
    inputs.len() > 1 || inputs.iter().any(|input| input.is_dir())
}

/// The jobs of all inputs in order of their names. What lies in folders of an input folder lies
/// in the same folders of the output. Fails with one sentence.
pub fn plan(inputs: &[PathBuf], output: &Path) -> Result<Vec<Job>, String> {
    if output.exists() && !output.is_dir() {
        return Err(format!("{} is a file; a batch needs a folder for -o", output.display()));
    }
    let output_whole = fs::canonicalize(output).ok();
    let mut jobs = Vec::new();
    for input in inputs {
        if input.as_os_str() == "-" {
            return Err("standard input is no part of a batch; give files and folders".to_owned());
        }
        if !input.is_dir() {
            let name = input.file_name().unwrap_or(input.as_os_str());
            jobs.push(Job { input: input.clone(), output: output.join(name) });
            continue;
        }
        let mut found = Vec::new();
        walk(input, output_whole.as_deref(), &mut found)?;
        leave_out_takes(&mut found);
        if found.is_empty() {
            return Err(format!("{}: there is no .mid or .midi file in it", input.display()));
        }
        let inside = |path: &PathBuf| {
            let own: PathBuf = path
                .strip_prefix(input)
                .unwrap_or(path)
                .components()
                .filter(|part| matches!(part, Component::Normal(_)))
                .collect();
            Job { input: path.clone(), output: output.join(own) }
        };
        jobs.extend(found.iter().map(inside));
    }
    refuse_shared_outputs(&jobs)?;
    Ok(jobs)
}

/// All MIDI files below a folder, but none below `left_out`. Links to folders are not followed.
fn walk(folder: &Path, left_out: Option<&Path>, found: &mut Vec<PathBuf>) -> Result<(), String> {
    if left_out.is_some() && fs::canonicalize(folder).ok().as_deref() == left_out {
        return Ok(());
    }
    let unreadable = |error: std::io::Error| format!("{}: {error}", folder.display());
    let entries = fs::read_dir(folder).map_err(unreadable)?;
    let mut paths = Vec::new();
    for entry in entries {
        paths.push(entry.map_err(unreadable)?.path());
    }
    paths.sort();
    for path in paths {
        if path.is_dir() {
            if !path.is_symlink() {
                walk(&path, left_out, found)?;
            }
        } else if is_midi(&path) {
            found.push(path);
        }
    }
    Ok(())
}

/// The take beside a shaped file belongs to that one.
fn leave_out_takes(found: &mut Vec<PathBuf>) {
    let beside: HashSet<PathBuf> = found.iter().map(|path| place_beside(path)).collect();
    found.retain(|path| !beside.contains(path));
}

fn is_midi(path: &Path) -> bool {
    let ending = path.extension().and_then(OsStr::to_str).map(str::to_ascii_lowercase);
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

/// Two results at one place would lose one of them, also where large and small letters are one.
fn refuse_shared_outputs(jobs: &[Job]) -> Result<(), String> {
    let mut taken: HashMap<String, &Job> = HashMap::new();
    let places = |job: &Job| [job.output.clone(), place_beside(&job.output)];
    for (job, path) in jobs.iter().flat_map(|job| places(job).map(|path| (job, path))) {
        let place = path.to_string_lossy().to_lowercase();
        if let Some(other) = taken.insert(place, job) {
            return Err(format!(
                "{} and {} would both go to {}; give each its own name or folder",
                other.input.display(),
                job.input.display(),
                path.display()
            ));
        }
    }
    Ok(())
}
