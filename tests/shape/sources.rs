//! A gesture that is asked for and is not there: what is named, what is refused, how it is called.

use std::fs;
use std::process::Command;

use super::room::{LINE, QUARTER, settings, take, words as track_words};
use polso::engine::patch::Source;
use polso::offline::midi::read::read;
use polso::offline::shape_bytes;
use polso::profile::address::spoken_source;

/// Runs the program in a folder with `in.mid`; gives the exit code and standard error.
fn polso(take: &[u8], words: &[&str]) -> (Option<i32>, String) {
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.mid"), take).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    let output = command.args(words).current_dir(room.path()).output().unwrap();
    (output.status.code(), String::from_utf8(output.stderr).unwrap())
}

/// A note on channel 1 with a breath controller and a few values of pressure.
const BREATH: &str = "0 B00210, 0 903C50, 10 B00220, 20 D010, 20 B00230, 30 D020, 480 803C40";

#[test]
fn a_gesture_on_another_controller_is_named_with_the_option_that_takes_it() {
    let check = |tracks: &[&str], expected: &str| {
        let error = shape_bytes(&take(QUARTER, tracks), &settings("erhu", "generic")).unwrap_err();
        assert_eq!(error.to_string(), expected, "{tracks:?}");
    };
    let breath = "track 1, channel 1: no cc 1; there are cc 2 (3, track 1), channel pressure (2, \
        track 1): --source cc2";
    check(&[BREATH], breath);
    check(
        &["0 903C50, 480 803C40", "0 D010, 9 D020"],
        "track 1, channel 1: no cc 1; there are channel pressure (2, track 2): --source pressure",
    );
}

#[test]
fn what_is_no_gesture_does_not_refuse_a_take() {
    let check = |line: &str, expected: &[&str]| {
        let shaped = shape_bytes(&take(QUARTER, &[line]), &settings("erhu", "generic")).unwrap();
        assert_eq!(shaped.report.notices, expected, "{line}");
    };
    let silent = "track 1, channel 1: no cc 1 here, so the gesture never moves";
    // A pedal, a bend, a bank and a volume that is set once.
    check("0 B00764, 0 903C50, 9 B0407F, 99 B04000, 480 803C40", &[silent]);
    check("0 903C50, 9 E00050, 99 E00040, 480 803C40", &[silent]);
    check("0 B00001, 0 B00002, 0 903C50, 480 803C40", &[silent]);
}

#[test]
fn a_gesture_that_comes_late_or_stays_where_it_is_is_told() {
    let check = |line: &str, expected: &[&str]| {
        let shaped = shape_bytes(&take(QUARTER, &[line]), &settings("erhu", "generic")).unwrap();
        assert_eq!(shaped.report.notices, expected, "{line}");
    };
    // 480 ticks are 0.5 s: so far ahead is not yet ahead.
    check("0 903C50, 480 B00110, 480 803C40, 490 B00120", &[]);
    check(
        "0 903C50, 400 803C40, 480 903E50, 960 B00110, 970 B00120, 970 803E40",
        &[
            "track 1, channel 1: cc 1 begins at 1.0 s; 1 note has begun before, with the gesture at \
          rest",
        ],
    );
    check(
        &format!("0 B00140, {BREATH}"),
        &["track 1, channel 1: cc 1 stays where it is; there are cc 2 (3, track 1), channel \
          pressure (2, track 1): --source cc2"],
    );
}

#[test]
fn sources_are_called_as_people_call_them() {
    let check = |words: &[&str], expected: Option<Source>| {
        words.iter().for_each(|word| assert_eq!(spoken_source(word), expected, "{word}"));
    };
    // MIDI 1.0 gives controllers 1, 2, 4, 7 and 11 these names.
    check(&["wheel", "cc1", "1", "CC 1"], Some(Source::Controller(1)));
    check(&["breath", "Breath", "cc 2", "2"], Some(Source::Controller(2)));
    check(&["11", "CC11", "cc 11", "expression"], Some(Source::Controller(11)));
    check(&["aftertouch", "pressure", "channel pressure"], Some(Source::ChannelPressure));
    check(&["bend", "pitch bend"], Some(Source::PitchBend));
    check(&["", "120", "cc 120", "-1", "knob", "1.0"], None);
}

#[test]
fn an_instrument_is_known_by_every_name_that_it_is_listed_with() {
    let check = |name: &str, code: i32, said: &str| {
        let line = ["shape", "in.mid", "-o", "out.mid", "-i", name];
        let (found, err) = polso(&take(QUARTER, &[LINE]), &line);
        assert_eq!((found, err.contains(said)), (Some(code), true), "{name}: {err}");
    };
    check("二胡", 0, "");
    check("эрху", 0, "");
    check("ЭРХУ", 0, "");
    check("Violine", 0, "");
    check("dizi", 2, "\"dizi\" could be dizi-d, dizi-g, dizi-c; give one of these\n");
    check("笛子", 2, "\"笛子\" could be dizi-d, dizi-g, dizi-c; give one of these\n");
    check("erho", 2, "the nearest is erhu");
}

#[test]
fn errors_are_objects_where_answers_are() {
    let check = |words: &[&str], expected: &str| {
        let (code, err) = polso(&take(QUARTER, &[BREATH]), words);
        let object: serde_json::Value = serde_json::from_str(&err).expect("one object");
        assert_eq!(code, Some(2), "{words:?}");
        assert_eq!(object["error"], expected, "{words:?}");
    };
    check(
        &["shape", "in.mid", "-o", "out.mid", "-i", "erhu", "--json"],
        "in.mid: track 1, channel 1: no cc 1; there are cc 2 (3, track 1), channel pressure (2, \
         track 1): --source cc2",
    );
    check(
        &["peel", "in.mid", "-o", "out.mid", "--json"],
        "in.mid: this is no shaped file, or its record is gone and no take lies beside it",
    );
    let line = ["shape", "in.mid", "-o", "no/out.mid", "-i", "erhu", "--json", "--source", "2"];
    check(&line, "no/out.mid: there is no folder no");
    let (code, err) = polso(&[], &["shape", "--json", "--knob"]);
    let object: serde_json::Value = serde_json::from_str(&err).expect("one object");
    assert_eq!(code, Some(2));
    assert!(object["error"].as_str().unwrap().contains("--knob"), "{err}");
}

#[test]
fn a_seed_that_changes_nothing_says_so_and_no_other() {
    let quiet = "0 903C50, 480 903E50, 490 803C40, 960 803E40";
    let check = |take_words: &str, words: &str, expected: Option<&str>| {
        let take = take(QUARTER, &[take_words]);
        let made = |seed: &str| {
            let room = tempfile::tempdir().unwrap();
            fs::write(room.path().join("in.mid"), &take).unwrap();
            let line = words.split(' ').chain(["--seed", seed]);
            let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
            let output = command.args(line).current_dir(room.path()).output().unwrap();
            assert_eq!(output.status.code(), Some(0), "{words:?}");
            let said = [output.stdout, output.stderr].concat();
            let said = String::from_utf8(said).unwrap();
            let lines =
                said.lines().filter_map(|line| line.split_once("the seed 4 changes nothing"));
            let found = lines.map(|(_, why)| why.to_owned()).next();
            // The marker names the seed, so the events are compared.
            let file = read(&fs::read(room.path().join("out.mid")).unwrap()).unwrap();
            let tracks: Vec<Vec<String>> = file.tracks.iter().map(track_words).collect();
            (found, tracks)
        };
        let ((found, own), (_, usual)) = (made("4"), made("0"));
        assert_eq!(found.as_deref(), expected, "{words}");
        assert_eq!(own == usual, expected.is_some(), "{words}: what is said is what is");
    };
    let shape = |more: &str| format!("shape in.mid -o out.mid {more}");
    let same = Some(" here: every message is as with seed 0");
    check(LINE, &shape("-i erhu -t perform"), None);
    // The receiver's own vibrato is told width and rate without unevenness.
    check(LINE, &shape("-i erhu"), same);
    let still = Some(": the imperfection is 0");
    check(LINE, &shape("-i flute -t perform --imperfection 0"), still);
    // Where a bow meets the string is drawn too, and heard where the level is ours.
    check(LINE, &shape("-i erhu -t perform --imperfection 0"), None);
    check(quiet, &shape("-i erhu -t perform"), same);
    // Before anything is played it is certain of winds alone.
    let trace = |more: &str| {
        let line = format!("trace in.mid --seed 4 --every 1000 {more}");
        polso(&take(QUARTER, &[LINE]), &line.split(' ').collect::<Vec<_>>()).1
    };
    let said = "the seed 4 changes nothing: the imperfection is 0\n";
    assert_eq!(trace("-i flute --imperfection 0"), said);
    assert_eq!(trace("-i flute"), "");
}
