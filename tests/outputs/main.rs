//! Where a result cannot be written: every verb says so in a sentence, ends with 2 and leaves nothing.

#![cfg(target_os = "linux")]

mod disks;
#[path = "../written/mod.rs"]
mod written;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use disks::Disk;
use polso::offline::{Request, shape_named};

/// A verb that writes, its words but for the place of its output, which comes last, and the ending
/// that it asks of the place.
const WRITERS: [(&str, &str); 6] = [
    ("shape take.mid -i erhu -o", "mid"),
    ("peel shaped.mid -o", "mid"),
    ("trace take.mid -i erhu -o", "csv"),
    ("plot take.mid -i erhu -o", "svg"),
    ("audit take.mid -i erhu --page", "svg"),
    #[cfg(feature = "editor")]
    ("edit take.mid --picture", "png"),
    #[cfg(not(feature = "editor"))]
    ("audit take.mid -i violin --page", "pdf"),
];
/// Of all of these.
const ENDINGS: [&str; 5] = ["mid", "csv", "svg", "png", "pdf"];
/// Less than any of their outputs.
const DISK_BYTES: usize = 8192;

/// Half a minute of notes and a wheel: what becomes of it is larger than the disk.
fn take() -> Vec<u8> {
    let notes: Vec<written::Struck> =
        (0..60).map(|place| (62 + place as u8 % 12, 500 * place, 500 * place + 520)).collect();
    let wheel: Vec<(u64, u8)> = (0..3000).map(|place| (10 * place, place as u8 % 128)).collect();
    written::take(&notes, &wheel)
}

/// A folder with a take, a shaped one, what is no music, a folder and a pipe for each ending.
fn room() -> tempfile::TempDir {
    let room = tempfile::tempdir().unwrap();
    let at = |name: &str| room.path().join(name);
    fs::write(at("take.mid"), take()).unwrap();
    let shaped = shape_named(&take(), &Request::new("erhu", "generic")).unwrap();
    fs::write(at("shaped.mid"), shaped.bytes).unwrap();
    fs::write(at("words"), "no music").unwrap();
    for ending in ENDINGS {
        fs::create_dir(at(&format!("folder.{ending}"))).unwrap();
        let made = Command::new("mkfifo").arg(at(&format!("pipe.{ending}"))).status();
        assert!(made.unwrap().success());
    }
    room
}

/// Everything below a folder: what is no file has no contents.
fn contents(folder: &Path) -> BTreeMap<PathBuf, Option<Vec<u8>>> {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let path = entry.path();
        if path.is_dir() {
            all.extend(contents(&path));
        }
        let file = path.is_file().then(|| fs::read(&path).unwrap());
        all.insert(path, file);
    }
    all
}

fn polso(room: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.args(words).current_dir(room).stdin(Stdio::null());
    command
}

/// What was said on standard error; with `--json` the object's sentence.
fn sentence(output: &Output, is_json: bool, line: &str) -> String {
    let said = String::from_utf8(output.stderr.clone()).unwrap();
    if !is_json {
        assert_eq!(said.lines().count(), 1, "{line}: {said}");
        return said;
    }
    let object: serde_json::Value = serde_json::from_str(&said).unwrap_or_else(|error| {
        panic!("{line}: {said}: {error}");
    });
    format!("{}\n", object["error"].as_str().unwrap())
}

/// Runs a line that must be refused with this sentence, plainly and for a program.
#[track_caller]
fn refused(room: &Path, line: &str, expected: &str) {
    let before = contents(room);
    let has_json = !line.starts_with("edit");
    for is_json in [false, true].into_iter().filter(|is_json| has_json || !is_json) {
        let mut words: Vec<&str> = line.split(' ').collect();
        words.extend(is_json.then_some("--json"));
        let output = polso(room, &words).output().unwrap();
        let said = sentence(&output, is_json, line);
        assert_eq!(said, format!("{expected}\n"), "{line}");
        assert_eq!(output.status.code(), Some(2), "{line}");
        assert!(output.stdout.is_empty(), "{line}");
        assert!(contents(room) == before, "{line}: something was left, or is gone");
    }
}

/// Every verb that writes, at a place `{place}.{ending}`, with and without leave to overwrite.
fn every_writer(room: &Path, place: &str, forces: &[&str], sentence: &str) {
    for (words, ending) in WRITERS {
        let output = format!("{place}.{ending}");
        for force in forces {
            let line = format!("{words} {output}{force}");
            refused(room, &line, &format!("{output}: {sentence}"));
        }
    }
}

const BOTH: [&str; 2] = ["", " --force"];

#[test]
fn no_verb_writes_where_no_file_can_stand() {
    let room = room();
    let room = room.path();
    every_writer(room, "folder", &BOTH, "a folder stands there; give the name of a file");
    every_writer(room, "pipe", &BOTH, "what stands there is no file; - is standard output");
    every_writer(room, "no/such/out", &BOTH, "there is no folder no/such");
    every_writer(room, "words/out", &BOTH, "there is no folder words");
}

#[test]
fn nothing_is_left_on_a_disk_that_is_full_or_cannot_be_written() {
    let room = room();
    let room = room.path();
    let full = Disk::full(&room.join("full"), DISK_BYTES, "there", "precious");
    for ending in ENDINGS {
        fs::hard_link(room.join("full/there"), room.join(format!("full/there.{ending}"))).unwrap();
    }
    every_writer(room, "full/out", &BOTH, "No space left on device (os error 28)");
    every_writer(room, "full/there", &[" --force"], "No space left on device (os error 28)");
    drop(full);
    let _read_only = Disk::read_only(&room.join("fixed"), "there", "precious");
    every_writer(room, "fixed/out", &BOTH, "Read-only file system (os error 30)");
}

#[test]
fn a_batch_that_finds_no_room_leaves_nothing() {
    let room = room();
    let room = room.path();
    fs::copy(room.join("take.mid"), room.join("other.mid")).unwrap();
    let _full = Disk::full(&room.join("full"), DISK_BYTES, "there", "precious");
    let _read_only = Disk::read_only(&room.join("fixed"), "there", "precious");
    let check = |place: &str, each: &str| {
        let before = contents(room);
        let words = ["shape", "take.mid", "other.mid", "-i", "erhu", "-o", place];
        let output = polso(room, &words).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{said}");
        let expected = ["take", "other"].map(|name| each.replace("NAME", name)).concat();
        assert_eq!(said, expected);
        assert!(contents(room) == before, "{place}: something was left");
    };
    check("full/new/deep", "full/new/deep/NAME.mid: No space left on device (os error 28)\n");
    check("full", "full/NAME.mid: No space left on device (os error 28)\n");
    check("fixed/new", "fixed/new: Read-only file system (os error 30)\n");
    check("fixed", "fixed/NAME.mid: Read-only file system (os error 30)\n");
    check("words/new", "words/new: Not a directory (os error 20)\n");
    refused(
        room,
        "shape take.mid other.mid -i erhu -o words",
        "words is a file; a batch needs a folder for -o",
    );
}

/// Every verb that prints what it makes or finds.
const PRINTERS: [&str; 12] = [
    "look take.mid",
    "shape take.mid -i erhu -o -",
    "shape take.mid -i erhu -o out.mid",
    "peel shaped.mid -o -",
    "trace take.mid -i erhu",
    "plot take.mid -i erhu -o -",
    "audit take.mid -i erhu",
    "contrast take.mid shaped.mid",
    "list",
    "show erhu",
    "show --schema hand",
    "vet erhu generic",
];

#[test]
fn what_cannot_be_printed_is_said() {
    let room = room();
    let expected = "standard output: No space left on device (os error 28)\n";
    for line in PRINTERS {
        for is_json in [false, true] {
            let mut words: Vec<&str> = line.split(' ').collect();
            words.extend(is_json.then_some("--json"));
            words.extend(line.contains("out.mid").then_some("--force"));
            let full = File::create("/dev/full").unwrap();
            let output = polso(room.path(), &words).stdout(full).output().unwrap();
            assert_eq!(output.status.code(), Some(2), "{line}");
            assert_eq!(sentence(&output, is_json, line), expected, "{line}");
        }
    }
}

/// Every verb that reads standard input.
const READERS: [&str; 8] = [
    "look -",
    "shape - -i erhu -o -",
    "peel - -o -",
    "trace - -i erhu",
    "plot - -i erhu -o -",
    "audit - -i erhu",
    "contrast - take.mid",
    "vet -",
];

#[test]
fn what_comes_from_standard_input_is_called_so() {
    let room = room();
    let folder = || Stdio::from(File::open(room.path()).unwrap());
    let music = || Stdio::from(File::open(room.path().join("words")).unwrap());
    for line in READERS {
        for is_json in [false, true] {
            let mut words: Vec<&str> = line.split(' ').collect();
            words.extend(is_json.then_some("--json"));
            let output = polso(room.path(), &words).stdin(folder()).output().unwrap();
            let said = sentence(&output, is_json, line);
            assert_eq!(output.status.code(), Some(2), "{line}");
            assert!(said.starts_with("standard input: "), "{line}: {said}");
            assert!(said.ends_with("Is a directory (os error 21)\n"), "{line}: {said}");
            let output = polso(room.path(), &words).stdin(music()).output().unwrap();
            if !line.starts_with("vet") {
                let said = sentence(&output, is_json, line);
                assert!(said.starts_with("standard input: byte 0: "), "{line}: {said}");
                assert_eq!(output.status.code(), Some(2), "{line}");
            }
        }
    }
}

#[test]
fn what_goes_through_both_ends_is_what_a_file_would_hold() {
    let room = room();
    for (line, input, output) in [
        ("shape - -i erhu -o", "take.mid", "out.mid"),
        ("peel - -o", "shaped.mid", "out.mid"),
        ("trace - -i erhu -o", "take.mid", "out.csv"),
        ("plot - -i erhu -o", "take.mid", "out.svg"),
    ] {
        let run = |place: &str| {
            let words: Vec<&str> = line.split(' ').chain([place, "--force"]).collect();
            let mut child = polso(room.path(), &words);
            child.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
            let mut child = child.spawn().unwrap();
            let bytes = fs::read(room.path().join(input)).unwrap();
            let mut pipe = child.stdin.take().unwrap();
            let writer = std::thread::spawn(move || drop(pipe.write_all(&bytes)));
            let output = child.wait_with_output().unwrap();
            writer.join().unwrap();
            assert_eq!(output.status.code(), Some(0), "{line} {place}");
            output.stdout
        };
        run(output);
        assert!(run("-") == fs::read(room.path().join(output)).unwrap(), "{line}");
    }
}

#[test]
fn no_sentence_names_a_temporary_file() {
    let room = room();
    let words = ["trace", "take.mid", "-i", "erhu", "--json"];
    let output = polso(room.path(), &words).env("TMPDIR", "/no/such").output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    let said = sentence(&output, true, "trace --json");
    assert_eq!(said, "/no/such: No such file or directory (os error 2)\n");
}
