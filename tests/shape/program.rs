//! The program from outside: what it prints, what it refuses and with which exit code.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use super::room::take;
use polso::offline::midi::Division;
use serde_json::json;

fn polso(folder: &Path, line: &str) -> Output {
    let words: Vec<&str> = line.split_whitespace().collect();
    Command::new(env!("CARGO_BIN_EXE_polso")).args(words).current_dir(folder).output().unwrap()
}

/// A folder with `in.mid`, a take that can be shaped.
fn room() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let line = "0 B00130, 0 903C50, 240 B00150, 480 803C40, 480 903E50, 960 B00160, 1920 803E40";
    fs::write(folder.path().join("in.mid"), take(Division::Quarter(480), &[line])).unwrap();
    folder
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

#[test]
fn shape_and_peel_go_there_and_back() {
    let room = room();
    let shaped = polso(room.path(), "shape in.mid -o out.mid -i erhu");
    assert_eq!(text(&shaped.stderr), "");
    assert_eq!(shaped.status.code(), Some(0));
    assert!(text(&shaped.stdout).starts_with("line       track 1, channel 1: 2 notes in 0:02.0\n"));
    let peeled = polso(room.path(), "peel out.mid -o back.mid");
    assert_eq!(peeled.status.code(), Some(0));
    assert!(text(&peeled.stdout).ends_with("the take is exactly as it was\n"));
    let read = |name: &str| fs::read(room.path().join(name)).unwrap();
    assert_eq!(read("back.mid"), read("in.mid"));
}

#[test]
fn what_is_refused_is_refused_in_one_sentence_and_nothing_is_written() {
    let check = |line: &str, expected: &str| {
        let room = room();
        fs::write(room.path().join("there.mid"), "precious").unwrap();
        fs::write(room.path().join("words.mid"), "no music").unwrap();
        let output = polso(room.path(), line);
        assert_eq!(text(&output.stderr), format!("{expected}\n"), "{line}");
        assert_eq!(output.status.code(), Some(2), "{line}");
        assert_eq!(text(&output.stdout), "", "{line}");
        assert_eq!(fs::read(room.path().join("there.mid")).unwrap(), b"precious", "{line}");
        assert_eq!(fs::read_dir(room.path()).unwrap().count(), 3, "{line}");
    };
    check("shape in.mid -o there.mid -i erhu", "there.mid: the file exists; --force overwrites it");
    check("peel in.mid -o there.mid", "there.mid: the file exists; --force overwrites it");
    check("trace in.mid -o there.mid -i erhu", "there.mid: the file exists; --force overwrites it");
    check("shape in.mid -o in.mid -i erhu --force", "in.mid: input and output are the same file");
    check(
        "shape words.mid -o out.mid -i erhu",
        "words.mid: byte 0: this is not a MIDI file: it does not begin with `MThd`",
    );
    check(
        "peel in.mid -o out.mid",
        "in.mid: this is no shaped file, or its record is gone and no take lies beside it",
    );
    check(
        "shape in.mid -o out.mid -i erhu --bars 4",
        "--bars is `4`; allowed is A..B, A.. or ..B with bars from 1 and A not after B",
    );
    check(
        "shape in.mid -o out.mid -i erhu --track 2",
        "in.mid: --track is 2; tracks with notes are 1",
    );
    check("trace in.mid -i erhu --every 0", "--every is 0; allowed is 1 to 60000");
    check(
        "shape in.mid -o out.mid -i erhu --imperfection 3",
        "imperfection is 3; allowed is 0 to 2",
    );
    check(
        "shape in.mid -o out.mid -i erhu --voices solo",
        "--voices is \"solo\"; allowed is line, chords or divisi, the last two perhaps with a number \
         of voices, 1 to 8, as in divisi:4",
    );
    check(
        "shape in.mid -o out.mid -i erhu --source knob",
        "--source is \"knob\"; allowed is \"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \
         \"channel pressure\", \"poly pressure\", \"pitch bend\", \"parameter\", \"mpe timbre\" or \
         \"mpe pressure\"; or a number 0 to 119, wheel, breath, foot, volume, expression, \
         pressure, aftertouch, poly aftertouch or bend",
    );
}

#[test]
fn an_unknown_instrument_and_a_missing_take_are_named() {
    let room = room();
    let unknown = polso(room.path(), "shape in.mid -o out.mid -i erho");
    assert_eq!(unknown.status.code(), Some(2));
    assert!(text(&unknown.stderr).contains("erho") && text(&unknown.stderr).contains("erhu"));
    let missing = polso(room.path(), "shape gone.mid -o out.mid -i erhu");
    assert_eq!(missing.status.code(), Some(2));
    assert!(text(&missing.stderr).starts_with("gone.mid: "));
    let nowhere = polso(room.path(), "shape in.mid -o no/such/out.mid -i erhu");
    assert_eq!(nowhere.status.code(), Some(2));
    assert!(text(&nowhere.stderr).starts_with("no/such/out.mid: "));
    assert_eq!(polso(room.path(), "shape in.mid").status.code(), Some(2));
}

#[test]
fn a_take_can_come_from_and_go_to_a_pipe() {
    let room = room();
    let polso_path = env!("CARGO_BIN_EXE_polso");
    let mut child = Command::new(polso_path)
        .args(["shape", "-", "-o", "-", "-i", "erhu"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let bytes = fs::read(room.path().join("in.mid")).unwrap();
    child.stdin.take().unwrap().write_all(&bytes).unwrap();
    let piped = child.wait_with_output().unwrap();
    assert_eq!(piped.status.code(), Some(0));
    polso(room.path(), "shape in.mid -o out.mid -i erhu");
    assert_eq!(piped.stdout, fs::read(room.path().join("out.mid")).unwrap());
    assert!(text(&piped.stderr).starts_with("line "), "the summary steps aside");
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let room = room();
    let mut child = Command::new(env!("CARGO_BIN_EXE_polso"))
        .args(["trace", "in.mid", "-i", "erhu"])
        .current_dir(room.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), text(&output.stderr)), (Some(0), ""));
}

#[test]
fn a_trace_has_the_columns_of_the_contract() {
    let room = room();
    let traced = polso(room.path(), "trace in.mid -i erhu --every 250");
    assert_eq!(traced.status.code(), Some(0));
    let mut lines = text(&traced.stdout).lines();
    assert_eq!(
        lines.next(),
        Some(
            "time_s,key,raw,gesture,dynamics,expression,width_cents,rate_hz,pitch_cents,\
             w_plain,w_rolled,w_pressed,legato,phrase,send,reason,transition_cents,level_db,\
             brightness,voice"
        )
    );
    let rows: Vec<Vec<&str>> = lines.map(|line| line.split(',').collect()).collect();
    assert!(rows.len() >= 20, "{} rows", rows.len());
    for (place, row) in rows.iter().enumerate() {
        assert_eq!(row.len(), 20);
        assert_eq!(row[19], "1", "the only voice");
        assert_eq!(row[0].parse::<f64>().unwrap(), 0.25 * place as f64);
        let weights: f64 = row[9..12].iter().map(|cell| cell.parse::<f64>().unwrap()).sum();
        assert!((weights - 1.0).abs() < 2e-4, "weights sum to 1 as far as four digits show");
    }
    assert_eq!((rows[1][1], rows[1][13]), ("60", "sounding"));
    assert_eq!(rows.last().unwrap()[1], "");

    let every = polso(room.path(), "trace in.mid -i erhu");
    assert_eq!(text(&every.stdout).lines().nth(2).unwrap().split(',').next(), Some("0.001"));
    let bars = polso(room.path(), "trace in.mid -i erhu --every 500 --bars 1..1 -o bar.csv");
    assert_eq!(text(&bars.stdout), "4 rows in bar.csv\n");
}

#[test]
fn json_is_one_object_with_stable_keys() {
    let room = room();
    let check = |line: &str, keys: &[&str]| -> serde_json::Value {
        let output = polso(room.path(), line);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let found: Vec<&String> = value.as_object().unwrap().keys().collect();
        assert_eq!(found, keys, "{line}");
        value
    };
    let shaped = check(
        "shape in.mid -o out.mid -i erhu --seed 5 --json",
        &[
            "output",
            "take",
            "bytes",
            "engine",
            "instrument",
            "target",
            "hand",
            "seed",
            "imperfection",
            "report",
        ],
    );
    assert_eq!((&shaped["seed"], &shaped["take"]), (&json!(5), &json!("out.take.mid")));
    assert_eq!(shaped["report"]["lines"][0]["notes"], 2);
    assert_eq!(shaped["report"]["lines"][0]["consumed"], 3);
    let peeled = check(
        "peel out.mid -o back.mid --json",
        &["output", "removed", "restored", "engine", "from", "is_exact", "leftovers", "notices"],
    );
    assert_eq!((&peeled["is_exact"], &peeled["from"]), (&json!(true), &json!("file")));
    let traced = check("trace in.mid -i erhu --every 1000 --json", &["notices", "rows"]);
    assert_eq!(traced["rows"][0]["phrase"], "sounding");
    check("trace in.mid -i erhu -o t.csv --json", &["output", "row_count", "notices"]);
}

#[test]
fn contrast_ends_with_0_for_the_same_and_1_for_something_else() {
    let room = room();
    let check = |line: &str, code: i32, end: &str| {
        let output = polso(room.path(), line);
        let said = format!("{}{}", text(&output.stdout), text(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{line}: {said}");
        assert!(said.ends_with(end), "{line}: {said}");
    };
    check("shape in.mid -o one.mid -i erhu", 0, "\n");
    check("shape in.mid -o other.mid -i violin", 0, "\n");
    check("contrast one.mid one.mid", 0, "\n");
    check("contrast one.mid other.mid --json", 1, "}\n");
    check("contrast one.mid other.mid --within 16383steps --within 16383ms", 0, "\n");
    check("contrast one.mid --fresh -i erhu", 0, "\n");
    check("contrast one.mid in.mid --fresh -i erhu", 0, "\n");
    check("contrast one.mid --fresh -i violin", 1, "\n");
    let alone = "there is one file only; give a second one, or --fresh and -i NAME\n";
    check("contrast one.mid", 2, alone);
    check("contrast one.mid --fresh", 2, "--fresh needs an instrument: -i NAME\n");
    check("contrast one.mid in.mid -i erhu", 2, "an instrument is given without --fresh\n");
    let steps = room.path().join("steps.mid");
    fs::write(steps, take(Division::Frame { frames_per_s: 25, ticks: 40 }, &["0 903C50"])).unwrap();
    check("contrast one.mid steps.mid", 2, "allowed is the same in both\n");
}
