//! Other people's readers take what the program writes: mido, midi2abc, midicsv and csvmidi.

use approx::abs_diff_eq;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::corpus::{folk_take, length_s};
use super::data::{self, some_melodies};
use super::performing::players;
use super::sample::figure;
use super::smf::File;

const TAKE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");

/// The example and folk melodies, each shaped by one of the players in turn. The files
/// stay in the folder as long as it is held.
fn shaped_files() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = tempfile::tempdir().expect("a folder");
    let players = players(&[1]);
    let mut takes = vec![("last-ferry".to_string(), data::read(Path::new(TAKE)), 1)];
    for (name, tune) in &some_melodies() {
        let (name, take, (track, ..)) = folk_take(name, tune);
        takes.push((name, take, track));
    }
    let mut paths = Vec::new();
    for (place, (name, take, track)) in takes.iter().enumerate() {
        let player = &players[place % players.len()];
        let path = folder.path().join(name).with_extension("mid");
        fs::write(&path, player.shape(&take.write(), *track, 1)).expect("a file is written");
        paths.push(path);
    }
    (folder, paths)
}

/// mido reads a file and prints how many notes it found and how long it is.
fn mido(path: &Path) -> Result<(usize, f64), String> {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/read_by_mido.py");
    let text = said_by(python().arg(script).arg(path))?;
    let mut words = text.split_whitespace();
    let notes = words.next().and_then(|word| word.parse().ok());
    let length_s = words.next().and_then(|word| word.parse().ok());
    notes.zip(length_s).ok_or(text)
}

/// midi2abc reads a file; it says what it dislikes in the middle of its score.
fn midi2abc(path: &Path) -> Result<(), String> {
    let score = said_by(Command::new("midi2abc").arg(path))?;
    let complaint = score.lines().find(|line| {
        let line = line.to_lowercase();
        line.contains("error") || line.contains("warning")
    });
    complaint.map_or(Ok(()), |line| Err(line.to_string()))
}

/// midicsv makes a table of a file and csvmidi a file of the table: the same bytes.
fn midicsv(path: &Path) -> Result<(), String> {
    let table = printed_by(Command::new("midicsv").arg(path))?;
    let mut back = Command::new("csvmidi");
    back.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut back =
        back.spawn().map_err(|error| format!("csvmidi: {error}; run cargo xtask test"))?;
    let mut stdin = back.stdin.take().ok_or("csvmidi takes no input")?;
    let writer = std::thread::spawn(move || stdin.write_all(&table));
    let output = back.wait_with_output().map_err(|error| error.to_string())?;
    writer.join().map_err(|_| "csvmidi")?.map_err(|error| error.to_string())?;
    let file = fs::read(path).map_err(|error| error.to_string())?;
    if output.stdout == file { Ok(()) } else { Err("the bytes differ".to_string()) }
}

/// The same as text; titles of tunes are in whatever letters their age had.
fn said_by(command: &mut Command) -> Result<String, String> {
    printed_by(command).map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
}

/// The Python that knows mido and SciPy.
pub fn python() -> Command {
    Command::new(data::folder().join("venv/bin/python"))
}

/// What a script of this folder makes of a table: the numbers of each line that it prints.
pub fn answers(script: &str, table: &str) -> Vec<Vec<f64>> {
    numbers(&answered(script, &[], table))
}

/// The numbers of each line.
pub fn numbers(lines: &[String]) -> Vec<Vec<f64>> {
    let number = |word: &str| word.parse::<f64>().expect("a number");
    lines.iter().map(|line| line.split_whitespace().map(number).collect()).collect()
}

/// The lines that a script of this folder prints, started with these paths and given this text.
pub fn answered(script: &str, paths: &[&PathBuf], text: &str) -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside");
    let mut judge = python();
    judge.arg(folder.join(script)).args(paths).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut judge = judge.spawn().unwrap_or_else(|error| panic!("{error}; {}", data::HINT));
    let mut stdin = judge.stdin.take().expect("input");
    let text = text.to_owned();
    let writer = std::thread::spawn(move || stdin.write_all(text.as_bytes()));
    let output = judge.wait_with_output().expect("answers");
    writer.join().expect("no panic").expect("the text is read");
    assert!(output.status.success(), "{script} ended with {}", output.status);
    String::from_utf8_lossy(&output.stdout).lines().map(str::to_owned).collect()
}

/// What a command prints. What it says on standard error counts as a complaint.
pub fn printed_by(command: &mut Command) -> Result<Vec<u8>, String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let output = command.output();
    let output = output.map_err(|error| format!("{name}: {error}; run cargo xtask test"))?;
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    if !output.status.success() || !complaint.trim().is_empty() {
        return Err(format!("{name}: {}: {complaint}", output.status));
    }
    Ok(output.stdout)
}

#[test]
fn mido_midi2abc_and_midicsv_read_shaped_files() {
    let (_folder, paths) = shaped_files();
    let mut note_count = 0;
    for path in &paths {
        let file = data::read(path);
        let strikes = file.tracks.iter().flatten().filter(|event| event.strike().is_some()).count();
        let end = file.tracks.iter().filter_map(|track| track.last()).map(|event| event.tick).max();
        let (notes, seconds) = mido(path).unwrap_or_else(|error| panic!("{path:?}: {error}"));
        assert_eq!(notes, strikes, "{path:?}");
        let expected_s = file.tempo_map().seconds(end.unwrap_or(0));
        let is_near = abs_diff_eq!(seconds, expected_s, epsilon = 1e-3);
        assert!(is_near, "{path:?}: {seconds} s, not {expected_s}");
        note_count += notes;
        assert_eq!(midi2abc(path), Ok(()), "{path:?}");
        assert_eq!(midicsv(path), Ok(()), "{path:?}");
    }
    let count = paths.len();
    assert!(count > 50 && note_count > 3000, "{count} files, {note_count} notes");
    figure(
        "mido",
        &format!("{count} shaped files read by mido (PyPI), {note_count} notes and keyswitches"),
    );
    figure(
        "midi2abc",
        &format!("{count} shaped files read by midi2abc (Debian abcmidi) without complaint"),
    );
    figure(
        "midicsv",
        &format!("{count} shaped files byte-identical through midicsv and csvmidi (Debian)"),
    );
}

/// The readers do notice what is wrong with a file.
#[test]
fn the_readers_notice_a_broken_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = fs::read(TAKE).expect("the example");
    let path = folder.path().join("broken.mid");
    // Cut off in the middle of the line's track.
    fs::write(&path, &whole[..whole.len() / 2]).expect("a file is written");
    assert!(mido(&path).is_err(), "mido");
    assert!(midi2abc(&path).is_err(), "midi2abc");
    assert!(midicsv(&path).is_err(), "midicsv");
    // A data byte above 127 in the first program change.
    let place = whole.windows(2).position(|bytes| bytes == [0xC0, 110]).expect("a program");
    let mut bent = whole.clone();
    bent[place + 1] = 0xFE;
    fs::write(&path, &bent).expect("a file is written");
    assert!(mido(&path).is_err(), "mido");
    assert!(midicsv(&path).is_err(), "midicsv");
}

/// The reader of these tests agrees with itself and with the reference writer abc2midi.
#[test]
fn the_tests_own_reader_reads_what_it_writes() {
    for (name, tune) in &some_melodies() {
        assert_eq!(File::read(&tune.write()).as_ref(), Ok(tune), "{name}");
        assert!(length_s(tune) > 1.0, "{name}");
    }
}
