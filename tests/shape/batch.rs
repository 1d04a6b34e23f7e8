//! Many takes at once: where the results go, what a bad file does to the others, and what is told.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::room::{LINE, QUARTER, take};

fn polso(folder: &Path, line: &str) -> Output {
    let words: Vec<&str> = line.split_whitespace().collect();
    Command::new(env!("CARGO_BIN_EXE_polso")).args(words).current_dir(folder).output().unwrap()
}

/// A folder of takes: `a.mid`, `b.MIDI`, `deep/a.mid`, one that is no MIDI file, and a text.
fn room(has_bad: bool) -> tempfile::TempDir {
    let room = tempfile::tempdir().unwrap();
    let at = |name: &str| room.path().join(name);
    fs::create_dir_all(at("takes/deep")).unwrap();
    for name in ["takes/a.mid", "takes/b.MIDI", "takes/deep/a.mid"] {
        fs::write(at(name), take(QUARTER, &[LINE])).unwrap();
    }
    fs::write(at("takes/words.txt"), "no take").unwrap();
    if has_bad {
        fs::write(at("takes/bad.mid"), "no take").unwrap();
    }
    room
}

/// All files below a folder by their names.
fn files(folder: &Path) -> Vec<String> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().into_string().unwrap();
        match entry.path().is_dir() {
            true => all.extend(files(&entry.path()).iter().map(|file| format!("{name}/{file}"))),
            false => all.push(name),
        }
    }
    all.sort();
    all
}

/// Runs a line and compares exit code, standard output and standard error.
#[track_caller]
fn check(room: &Path, line: &str, code: i32, out: &str, err: &str) {
    let output = polso(room, line);
    let said =
        (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert_eq!((said.0.as_str(), said.1.as_str()), (out, err), "{line}");
    assert_eq!(output.status.code(), Some(code), "{line}");
}

const BAD: &str = "takes/bad.mid: byte 0: this is not a MIDI file: it does not begin with `MThd`\n";

#[test]
fn a_folder_is_shaped_into_a_folder_like_it() {
    let room = room(false);
    let out = "3 of 3 files shaped: 9 notes, 0.0 hours\n";
    check(room.path(), "shape takes -o out -i erhu", 0, out, "");
    assert_eq!(
        files(&room.path().join("out")),
        ["a.mid", "a.take.mid", "b.MIDI", "b.take.MIDI", "deep/a.mid", "deep/a.take.mid"]
    );
    let alone = polso(room.path(), "shape takes/a.mid -o alone.mid -i erhu");
    assert_eq!(alone.status.code(), Some(0));
    let read = |name: &str| fs::read(room.path().join(name)).unwrap();
    assert_eq!(read("out/deep/a.mid"), read("alone.mid"));
    assert_eq!(read("out/deep/a.take.mid"), read("takes/deep/a.mid"));
    // A folder of shaped files and their takes is one of shaped files.
    let first = "the file was shaped before and has been peeled first";
    let err =
        ["a.mid", "b.MIDI", "deep/a.mid"].map(|name| format!("out/{name}: {first}\n")).concat();
    check(room.path(), "shape out -o again -i erhu --force", 0, out, &err);
    assert_eq!(files(&room.path().join("again")), files(&room.path().join("out")));
    assert_eq!(read("again/deep/a.mid"), read("alone.mid"));
}

#[test]
fn one_bad_file_stops_no_other_and_is_named_at_the_end() {
    let room = room(true);
    let out = "3 of 4 files shaped: 9 notes, 0.0 hours\n";
    check(room.path(), "shape takes -o out -i erhu --jobs 2", 1, out, BAD);
    check(room.path(), "shape takes -o bare -i erhu --no-take", 1, out, BAD);
    assert_eq!(files(&room.path().join("bare")), ["a.mid", "b.MIDI", "deep/a.mid"]);
    let none = "0 of 2 files shaped: 0 notes, 0.0 hours\n";
    let output = polso(room.path(), "shape takes/bad.mid takes/none.mid -o empty -i erhu");
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(String::from_utf8(output.stdout).unwrap(), none);
    let err = String::from_utf8(output.stderr).unwrap();
    let named: Vec<&str> = err.lines().map(|line| &line[..14]).collect();
    assert_eq!(named, ["takes/bad.mid:", "takes/none.mid"]);
    let object = polso(room.path(), "shape takes -o json -i erhu --json").stdout;
    let object: serde_json::Value = serde_json::from_slice(&object).unwrap();
    let keys: Vec<&String> = object.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["shaped_count", "refused_count", "notes", "hours", "shaped", "refused"]);
    assert_eq!(object["refused"][0]["sentence"], BAD.trim());
    assert_eq!(object["shaped"][2]["output"], "json/deep/a.mid");
}

#[test]
fn nothing_is_overwritten_and_no_two_results_share_a_name() {
    let room = room(false);
    let path = room.path();
    fs::create_dir(path.join("out")).unwrap();
    fs::write(path.join("out/a.mid"), "precious").unwrap();
    let out = "2 of 3 files shaped: 6 notes, 0.0 hours\n";
    let kept = "out/a.mid: the file exists; --force overwrites it\n";
    check(path, "shape takes -o out -i erhu", 1, out, kept);
    assert_eq!(fs::read(path.join("out/a.mid")).unwrap(), b"precious");
    let out = "3 of 3 files shaped: 9 notes, 0.0 hours\n";
    check(path, "shape takes -o out -i erhu --force", 0, out, "");
    let shared = "takes/a.mid and takes/deep/a.mid would both go to new/a.mid; give each its own \
        name or folder\n";
    check(path, "shape takes/a.mid takes/deep/a.mid -o new -i erhu", 2, "", shared);
    assert!(!path.join("new").exists());
    let words = "takes/words.txt is a file; a batch needs a folder for -o\n";
    check(path, "shape takes -o takes/words.txt -i erhu", 2, "", words);
    let empty = "out/deep/none: there is no .mid or .midi file in it\n";
    fs::create_dir(path.join("out/deep/none")).unwrap();
    check(path, "shape takes out/deep/none -o new -i erhu", 2, "", empty);
    let pipe = "standard input is no part of a batch; give files and folders\n";
    check(path, "shape takes - -o new -i erhu", 2, "", pipe);
    let jobs = "--jobs is 0; allowed is 1 to 256\n";
    check(path, "shape takes -o new -i erhu --jobs 0", 2, "", jobs);
}

#[test]
fn a_folder_inside_the_takes_is_not_shaped_again() {
    let room = room(false);
    let out = "3 of 3 files shaped: 9 notes, 0.0 hours\n";
    check(room.path(), "shape takes -o takes/out -i erhu", 0, out, "");
    check(room.path(), "shape takes -o takes/out -i erhu --force", 0, out, "");
}
