//! The command that `look` gives: which line, which instrument, which controller; and it runs.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::room::{LINE, QUARTER, take};
use polso::offline::look::look_bytes;
use polso::profile::shipped::instruments_called;

/// The words of the command after its output, and what it says of itself.
fn next(tracks: &[&str]) -> (String, Vec<String>) {
    let next = look_bytes(&take(QUARTER, tracks)).unwrap().next;
    (next.words("a.mid", "b.mid")[4..].join(" "), next.remarks)
}

/// So many values of a controller on a channel, a millisecond or so apart.
fn moves(status: u8, number: u8, count: u64) -> String {
    let value = |place: u64| match status & 0xF0 {
        0xD0 => format!("{place} {status:02X}{place:02X}"),
        _ => format!("{place} {status:02X}{number:02X}{place:02X}"),
    };
    (0..count).map(value).collect::<Vec<_>>().join(", ")
}

const NOTE: &str = "50 903E50, 480 904050, 490 803E40, 900 904150, 910 804040, 1400 804140";

#[test]
fn a_title_calls_an_instrument_in_any_script_and_not_another_kind_of_it() {
    let check = |title: &str, expected: &[&str]| {
        assert_eq!(instruments_called(title), expected, "{title}");
    };
    check("Violin", &["violin"]);
    check("violin1", &["violin"]);
    check("Solo Violin II", &["violin"]);
    check("Violins", &[]);
    check("二胡", &["erhu"]);
    check("主奏二胡（第一段）", &["erhu"]);
    check("Скрипка соло", &["violin"]);
    check("Double Bass", &["double-bass"]);
    check("Morin khuur, high", &["morin-khuur-high"]);
    check("Morin khuur", &["morin-khuur"]);
    // A part of three names.
    check("笛子", &["dizi-d", "dizi-g", "dizi-c"]);
    check("Bass Clarinet", &[]);
    check("Alto Sax", &[]);
    check("Alto Flute", &[]);
    check("Alto", &["viola"]);
    check("Violin + Cello", &[]);
    check("Piano", &[]);
    check("", &[]);
}

#[test]
fn the_instrument_is_told_by_name_then_program_then_range() {
    let check = |words: &str, instrument: &str| {
        let (options, remarks) = next(&[words]);
        assert_eq!(options, format!("-i {instrument}"), "{words}: {remarks:?}");
    };
    let wheel = moves(0xB0, 1, 20);
    check(&format!("0 FF030476696F6C, 0 C02A, {wheel}, {NOTE}"), "cello"); // "viol" is no name
    check(&format!("0 FF0307666CC3BB74653A, 0 C02A, {wheel}, {NOTE}"), "flute"); // "flûte:"
    check(&format!("0 C049, {wheel}, {NOTE}"), "flute");
    check(&format!("0 B00001, 0 C049, {wheel}, {NOTE}"), "INSTRUMENT"); // bank 1 is not General MIDI's
    check(&format!("0 C000, {wheel}, {NOTE}"), "INSTRUMENT");
    // Of the shipped instruments only the double bass goes down to E1.
    let low = "50 901C50, 480 901E50, 490 801C40, 900 902150, 910 801E40, 1400 802140";
    check(&format!("{wheel}, {low}"), "double-bass");
    check(&format!("0 C022, {wheel}, {low}"), "INSTRUMENT"); // and calls itself an electric bass
    // A violin that plays nothing it can play is none.
    check(&format!("0 C028, {wheel}, {low}"), "INSTRUMENT");
}

#[test]
fn what_stands_for_an_instrument_says_so_and_names_those_that_could_be() {
    let (_, remarks) = next(&[&format!("{}, {NOTE}", moves(0xB0, 1, 20))]);
    assert_eq!(remarks.len(), 1, "{remarks:?}");
    let expected = "INSTRUMENT stands for the instrument, which neither name nor program tells";
    assert!(remarks[0].starts_with(expected) && remarks[0].contains("erhu, violin"), "{remarks:?}");
    assert!(!remarks[0].contains("dizi"), "D4 is below every dizi: {remarks:?}");
}

#[test]
fn the_controller_is_the_one_that_moves() {
    let check = |words: &str, expected: &str| {
        let (options, remarks) = next(&[words]);
        assert_eq!(options, expected, "{words}: {remarks:?}");
        remarks
    };
    let name = "0 FF030465726875";
    let with = |lanes: &str| format!("{name}, {lanes}, {NOTE}");
    check(&with(&moves(0xB0, 1, 20)), "-i erhu");
    check(&with(&moves(0xB0, 2, 20)), "-i erhu --source cc2");
    check(&with(&moves(0xD0, 0, 20)), "-i erhu --source pressure");
    // The volume moves most, and the expression as a hand does.
    let both = format!("{}, {}", moves(0xB0, 11, 10), moves(0xB0, 7, 40));
    let mut sorted: Vec<&str> = both.split(", ").collect();
    sorted.sort_by_key(|word| word.split_once(' ').unwrap().0.parse::<u64>().unwrap());
    check(&with(&sorted.join(", ")), "-i erhu --source cc11");
    let remarks = check(&with(&moves(0xB0, 7, 40)), "-i erhu --source cc7");
    assert!(remarks[0].starts_with("nothing moves but cc7, the volume"), "{remarks:?}");
    let remarks = check(&with(&moves(0xB0, 11, 3)), "-i erhu --source cc11");
    assert!(remarks[0].starts_with("cc11 has 3 different values only"), "{remarks:?}");
    // A pan, a pedal and the player's own bend are no gestures.
    let remarks = check(&with("0 B00A10, 1 B00A20, 2 B0407F, 3 B04000, 4 E00050"), "-i erhu");
    assert!(remarks[0].starts_with("no controller moves with these notes"), "{remarks:?}");
}

/// A wheel that was a vibrato rests at 0 between: as the gesture it would silence the line.
#[test]
fn a_controller_that_stands_at_0_under_the_notes_is_said_to() {
    let check = |zero: &str, is_said: bool| {
        let words = format!("0 FF030465726875, {}, {zero}, {NOTE}", moves(0xB0, 1, 20));
        let (_, remarks) = next(&[&words]);
        let is_found = remarks.iter().any(|it| it.starts_with("cc1 stands at 0 as 100 % of the"));
        assert_eq!(is_found, is_said, "{remarks:?}");
    };
    check("30 B00100", true);
    check("30 B00101", false);
}

#[test]
fn where_no_instrument_has_every_note_the_nearest_is_named() {
    // C-1 to G9: 3 notes, of which most instruments have one.
    let (_, remarks) =
        next(&["0 900050, 480 800040, 480 904550, 960 804540, 960 907F50, 1440 807F40"]);
    assert!(
        remarks[0].contains("none of them has all of these notes, erhu all but 2"),
        "{remarks:?}"
    );
}

#[test]
fn the_line_is_the_one_that_is_played_and_the_gesture_may_stand_on_another_track() {
    let erhu = "0 FF030465726875";
    let (options, remarks) = next(&[NOTE, &format!("{erhu}, {}, {NOTE}", moves(0xB0, 1, 20))]);
    assert_eq!(options, "-i erhu --track 2");
    let expected = "of 2 lines the one on track 2, channel 1 (erhu) looks most like a player's; \
        --track and --channel take another";
    assert_eq!(remarks, [expected]);
    // Lent by a track of the same channel without notes.
    let (options, remarks) = next(&[&format!("{erhu}, {NOTE}"), &moves(0xB0, 2, 20)]);
    assert_eq!((&*options, &remarks[..]), ("-i erhu --source cc2", &[][..]));
    // Two channels on one track: the second is named.
    let second = NOTE.replace(" 90", " 91").replace(" 80", " 81");
    let mut both: Vec<String> = format!("{}, {NOTE}, {second}", moves(0xB1, 1, 20))
        .split(", ")
        .map(str::to_owned)
        .collect();
    both.sort_by_key(|word| word.split_once(' ').unwrap().0.parse::<u64>().unwrap());
    let (options, remarks) = next(&[&format!("{erhu}, {}", both.join(", "))]);
    assert_eq!((&*options, remarks.len()), ("-i erhu --track 1 --channel 2", 1), "{remarks:?}");
}

#[test]
fn a_take_that_would_be_refused_is_said_to_be() {
    // "articulation: x" is no articulation.
    let words = "0 FF010F61727469 63756C6174696F6E3A2078";
    let (_, remarks) =
        next(&[&format!("0 FF030465726875, {words}, {}, {NOTE}", moves(0xB0, 1, 9))]);
    assert_eq!(remarks.len(), 1, "{remarks:?}");
    assert!(
        remarks[0].starts_with("as it stands it is refused: track 1, tick 0: articulation is `x`")
    );
}

fn polso(folder: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.args(words).current_dir(folder).output().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

/// What a shell makes of the command that is printed last.
fn run_as_printed(folder: &Path, said: &str) -> Output {
    let command = said.lines().last().unwrap().strip_prefix("command    polso ").unwrap();
    let program = env!("CARGO_BIN_EXE_polso");
    let line = format!("'{program}' {command}");
    Command::new("sh").args(["-c", &line]).current_dir(folder).output().unwrap()
}

#[test]
fn the_command_runs_as_printed_whatever_the_file_is_called() {
    for name in ["in.mid", "it's a \"take\" $HOME.mid", "-dash.mid", "二胡 1.mid", "no ending"] {
        let room = tempfile::tempdir().unwrap();
        fs::write(room.path().join(name), take(QUARTER, &[LINE])).unwrap();
        let given = format!("./{name}");
        let looked = polso(room.path(), &["look", "--", &given]);
        assert_eq!((looked.status.code(), text(&looked.stderr)), (Some(0), ""), "{name}");
        let shaped = run_as_printed(room.path(), text(&looked.stdout));
        assert_eq!((shaped.status.code(), text(&shaped.stderr)), (Some(0), ""), "{name}");
        let stem = Path::new(name).file_stem().unwrap().to_str().unwrap().trim_start_matches('-');
        let made = format!("{stem}-erhu.mid");
        assert!(room.path().join(&made).exists(), "{made}");
        // The name is taken now; and the shaped file is peeled, which gives the take.
        let again = polso(room.path(), &["look", &given]);
        assert!(text(&again.stdout).contains("-erhu-2.mid"), "{}", text(&again.stdout));
        let looked = polso(room.path(), &["look", &made]);
        let peeled = run_as_printed(room.path(), text(&looked.stdout));
        assert_eq!(peeled.status.code(), Some(0), "{}", text(&peeled.stderr));
        let back = fs::read(room.path().join(format!("{stem}-erhu-take.mid"))).unwrap();
        assert_eq!(back, fs::read(room.path().join(name)).unwrap());
    }
}

#[test]
fn a_bad_file_is_named_and_the_others_are_looked_at() {
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.mid"), take(QUARTER, &[LINE])).unwrap();
    fs::write(room.path().join("words.mid"), "no music").unwrap();
    let looked = polso(room.path(), &["look", "words.mid", "in.mid", "gone.mid", "in.mid"]);
    assert_eq!(looked.status.code(), Some(2));
    let err = "words.mid: byte 0: this is not a MIDI file: it does not begin with `MThd`\n\
        gone.mid: No such file or directory (os error 2)\n";
    assert_eq!(text(&looked.stderr), err);
    assert_eq!(text(&looked.stdout).matches("file       in.mid\n").count(), 2);
}

#[test]
fn json_has_the_same_facts_under_stable_keys() {
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.mid"), take(QUARTER, &[LINE])).unwrap();
    let looked = polso(room.path(), &["look", "--json", "in.mid", "gone.mid"]);
    assert_eq!(looked.status.code(), Some(2));
    let error: serde_json::Value = serde_json::from_slice(&looked.stderr).unwrap();
    assert!(error["error"].as_str().unwrap().starts_with("gone.mid: "));
    let object: serde_json::Value = serde_json::from_slice(&looked.stdout).unwrap();
    let keys = |value: &serde_json::Value| {
        value.as_object().unwrap().keys().cloned().collect::<Vec<String>>().join(" ")
    };
    let file = &object["files"][0];
    assert_eq!(object["files"].as_array().unwrap().len(), 1);
    assert_eq!(
        keys(file),
        "file song tracks texts other_texts sysex shaped cannot_tell next command words"
    );
    assert_eq!(keys(&file["song"]), "format quarter_ticks length_s bars tempo metres");
    let part = &file["tracks"][0]["parts"][0];
    assert_eq!(keys(part), "channel is_drum_channel programs notes lanes instrument");
    assert_eq!(
        keys(&part["notes"]),
        "all notes lowest_key lowest highest_key highest overlap_share voices chords chord_keys \
         from_s open_notes keyswitches"
    );
    assert_eq!(
        keys(&part["lanes"][0]),
        "address name messages lowest highest steps interval_ms source layer \
         notes_at_zero_share is_written_over"
    );
    assert_eq!(keys(&part["instrument"]), "id by candidates outside_notes foreign_notes");
    assert_eq!(
        keys(&file["next"]),
        "verb instrument is_placeholder track channel source replaces remarks"
    );
    assert_eq!(file["command"], "polso shape in.mid -o in-erhu.mid -i erhu");
    assert_eq!(file["words"][1], "shape");
}

#[test]
fn a_take_from_standard_input_is_looked_at() {
    let bytes = take(QUARTER, &[LINE]);
    let mut child = Command::new(env!("CARGO_BIN_EXE_polso"))
        .args(["look", "-"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), &bytes).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output.stdout).starts_with("file       standard input\n"));
    assert!(text(&output.stdout).ends_with("polso shape - -o take-erhu.mid -i erhu\n"));
}
