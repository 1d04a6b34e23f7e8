//! The verbs vet, list and show, and the program's help: what they print and how they end.

use serde_json::Value as Json;
use std::io::Write;
use std::process::{Command, Stdio};

/// Exit code, standard output and standard error of one call.
fn polso(arguments: &[&str], input: &str) -> (Option<i32>, String, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_polso"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    child.stdin.take().expect("a pipe").write_all(input.as_bytes()).expect("it is read");
    let output = child.wait_with_output().expect("the program ends");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

/// One call prints exactly this and ends so.
fn check(arguments: &[&str], input: &str, code: i32, out: &str, err: &str) {
    let result = polso(arguments, input);
    assert_eq!(result, (Some(code), out.to_owned(), err.to_owned()), "{arguments:?}");
}

const LEVER: &str =
    "polso = \"hand\"\nformat = 1\n[controller]\nsource = \"cc 1\"\nweight = 9\nwieght = 1\n";

#[test]
fn vet_says_what_is_in_order() {
    check(
        &["vet", "erhu", "generic"],
        "",
        0,
        "erhu: the instrument erhu is in order\ngeneric: the target generic is in order\n",
        "",
    );
    check(
        &["vet", "-"],
        &LEVER.replace("weight = 9\n", ""),
        1,
        "standard input: note: line 5: controller.wieght: unknown field, kept; the nearest known one is weight\n\
         standard input: the hand my-hand is in order\n",
        "",
    );
}

#[test]
fn vet_finds_faults_with_their_lines() {
    check(
        &["vet", "-"],
        LEVER,
        1,
        "standard input: line 5: controller.weight is 9; allowed is 0.5 to 3\n",
        "",
    );
    let (code, out, err) = polso(&["vet", "--json", "-"], LEVER);
    let object: Json = serde_json::from_str(&out).expect("one object");
    assert_eq!((code, err.as_str()), (Some(1), ""));
    assert_eq!(object["fault_count"], 1);
    assert_eq!(
        object["files"][0]["faults"][0],
        serde_json::json!({
            "line": 5,
            "field": "controller.weight",
            "found": "9",
            "allowed": "0.5 to 3",
            "sentence": "line 5: controller.weight is 9; allowed is 0.5 to 3",
        })
    );
}

#[test]
fn vet_puts_the_files_together() {
    let keys = "polso = \"target\"\nformat = 1\n[about]\nid = \"keys\"\nnames = { en = \"keys\" }\n\
                [legato]\nby = \"keyswitch\"\nslide = 60\njoined = 24\n";
    check(
        &["vet", "-", "violin"],
        keys,
        1,
        "standard input: line 8: legato.slide is 60; allowed is a key outside 55 to 103, where the violin plays\n\
         violin: the instrument violin is in order\n",
        "",
    );
    check(
        &["vet", "-", "erhu"],
        &keys.replace("60", "61"),
        0,
        "standard input: the target keys is in order\nerhu: the instrument erhu is in order\n",
        "",
    );
    check(&["vet", "-"], keys, 0, "standard input: the target keys is in order\n", "");
}

#[test]
fn bad_use_ends_with_2_and_says_why() {
    check(
        &["show", "erhuu"],
        "",
        2,
        "",
        "\"erhuu\" is neither a shipped name nor a file; \
        shipped are erhu, violin, dizi-d, gaohu, zhonghu, morin-khuur, morin-khuur-high, viola, cello, \
        double-bass, dizi-g, dizi-c, xiao, hulusi, suona-d, flute, oboe, clarinet, trumpet, generic, \
        perform, perform-12, portamento, wheel, breath; the nearest is erhu\n",
    );
    let (code, out, err) = polso(&["vet", "no/such/file.toml"], "");
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.starts_with("no/such/file.toml: cannot be read: "), "{err}");
    assert_eq!(polso(&["vet"], "").0, Some(2));
    assert_eq!(polso(&["lsit"], "").0, Some(2));
}

#[test]
fn list_names_everything_in_its_own_script() {
    let (code, out, _) = polso(&["list"], "");
    assert_eq!(code, Some(0));
    let order = [
        "bowed",
        "erhu",
        "二胡",
        "violin",
        "скрипка",
        "wind",
        "dizi-d",
        "笛子",
        "targets",
        "generic",
        "perform",
        "perform-12",
        "portamento",
        "hands",
        "wheel",
        "breath",
    ];
    let places: Vec<_> = order.iter().map(|word| out.find(word)).collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{places:?} in\n{out}");
    let (code, out, _) = polso(&["list", "--json"], "");
    let object: Json = serde_json::from_str(&out).expect("one object");
    assert_eq!(code, Some(0));
    assert_eq!(object["instruments"][0]["names"]["zh-Hans"], "二胡");
    assert_eq!(object["instruments"][9]["family"], "wind");
    assert_eq!(object["targets"][1]["id"], "perform");
    assert_eq!(object["hands"][0]["id"], "wheel");
}

#[test]
fn show_prints_units_and_confidence() {
    let (code, out, _) = polso(&["show", "erhu"], "");
    assert_eq!(code, Some(0));
    let rows: Vec<String> =
        out.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
    for row in [
        "hard keys D4 (62), A6 (93) H",
        "span 12, 19 semitones H",
        "width 0, 56, 120 cents at 0, 0.5, 1 M",
        "rate 4.8 Hz M",
        "style edges 0.1 to 0.3, 0.72 to 0.92 L",
        "onset 220 ms M",
        "imperfection width 12 % L",
        "length 0.4 m M",
    ] {
        assert!(rows.iter().any(|each| each == row), "{row} in\n{out}");
    }
    let (code, out, _) = polso(&["show", "violin", "--json"], "");
    let object: Json = serde_json::from_str(&out).expect("one object");
    let fields = object["fields"].as_array().expect("a list");
    let rate = fields.iter().find(|it| it["field"] == "vibrato.rolled.rate_hz").expect("rate");
    assert_eq!(code, Some(0));
    assert_eq!(rate["value"], serde_json::json!([[0, 5], [0.5, 6], [1, 7.2]]));
    assert_eq!((&rate["unit"], &rate["confidence"]), (&Json::from("Hz"), &Json::from("H")));
    assert!(rate["origin"].as_str().is_some_and(|text| text.contains("MacLeod 2009")));
}

#[test]
fn show_tells_from_which_file_a_number_comes() {
    let (code, out, _) = polso(&["show", "double-bass"], "");
    assert_eq!(code, Some(0));
    let rows: Vec<String> =
        out.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
    for row in ["based on cello", "length 1.05 m L", "join keep 0.15 M from cello"] {
        assert!(rows.iter().any(|each| each == row), "{row} in\n{out}");
    }
}

#[test]
fn show_diff_prints_both_values_with_units() {
    check(
        &["show", "--diff", "morin-khuur", "morin-khuur"],
        "",
        0,
        "morin-khuur and morin-khuur differ in no field\n",
        "",
    );
    let (code, out, err) = polso(&["show", "--diff", "dizi-d", "dizi-g"], "");
    let rows: Vec<String> =
        out.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
    let expected = [
        "dizi-d dizi-g",
        "",
        "range",
        "hard keys A4 (69), D7 (98) D5 (74), G7 (103)",
        "comfortable keys A4 (69), B6 (95) D5 (74), E7 (100)",
    ];
    assert_eq!((code, err.as_str()), (Some(1), ""));
    assert_eq!(rows, expected);
    let (code, out, _) = polso(&["show", "--diff", "erhu", "flute", "--json"], "");
    let object: Json = serde_json::from_str(&out).expect("one object");
    assert_eq!(code, Some(1));
    let differences = object["differences"].as_array().expect("a list");
    let of = |field: &str| differences.iter().find(|it| it["field"] == field).expect("a field");
    let onset = of("vibrato.onset_ms");
    assert_eq!(
        (&onset["unit"], &onset["a"]["value"], &onset["b"]["value"]),
        (&Json::from("ms"), &Json::from(220), &Json::from(250))
    );
    assert_eq!(of("strings.length_m")["b"]["has_field"], false);
    assert_eq!(of("breath.pp_s")["a"]["has_field"], false);
    let (code, _, err) = polso(&["show", "--diff", "erhu", "generic"], "");
    assert_eq!(code, Some(2));
    assert!(err.contains("only files of one kind can be compared"), "{err}");
    assert_eq!(polso(&["show"], "").0, Some(2));
}

#[test]
fn schema_prints_one_object_for_each_kind() {
    for kind in ["instrument", "target", "hand"] {
        let (code, out, err) = polso(&["show", "--schema", kind], "");
        assert_eq!((code, err.as_str()), (Some(0), ""));
        // The old word of the verb is still understood.
        check(&["schema", kind], "", 0, &out, "");
        let object: Json = serde_json::from_str(&out).expect("one object");
        assert_eq!(object["properties"]["polso"]["const"], kind);
    }
    let (_, out, _) = polso(&["show", "--schema", "hand", "--json"], "");
    assert_eq!(out.lines().count(), 1);
    assert_eq!(polso(&["show", "--schema", "lever"], "").0, Some(2));
    assert_eq!(polso(&["show", "erhu", "--schema", "hand"], "").0, Some(2));
}

/// Every verb stands under a heading, none under the one for what has been forgotten, in one line of
/// a terminal.
#[test]
fn help_has_every_verb_once_under_a_heading() {
    let (code, out, err) = polso(&["--help"], "");
    assert_eq!((code, err.as_str()), (Some(0), ""));
    let headings = ["Take,", "Line,", "Instrument,", "Receiver,", "Player,", "Options:"];
    let places: Vec<Option<usize>> = headings.iter().map(|heading| out.find(heading)).collect();
    assert!(places.is_sorted() && places[0].is_some(), "{out}");
    assert!(!out.contains("Others"), "{out}");
    let verbs = out.lines().take_while(|line| !line.starts_with("Options"));
    let verbs: Vec<&str> = verbs.filter(|line| line.starts_with("  ")).collect();
    assert!(verbs.len() >= 11 && verbs.iter().all(|line| line.chars().count() <= 80), "{out}");
    for verb in [
        "look", "shape", "punch", "peel", "hear", "trace", "plot", "contrast", "edit", "list",
        "show", "vet", "audit",
    ] {
        let rows = verbs.iter().filter(|line| line.split_whitespace().next() == Some(verb)).count();
        assert_eq!(rows, 1, "{verb}: {out}");
        let (code, own, _) = polso(&[verb, "--help"], "");
        assert_eq!(code, Some(0), "{own}");
    }
    // A word of old is understood and not shown.
    assert!(!out.contains("schema"), "{out}");
    assert_eq!(polso(&[], "").2, out, "nothing at all is answered with the same");
    assert!(polso(&["help", "vet"], "").1.starts_with("Check files"));
}

#[cfg(not(feature = "editor"))]
#[test]
fn a_program_without_the_window_says_how_to_get_it() {
    let sentence = "this program was built without the window; from the source, \
        `cargo run --release --features editor -- edit take.mid --at 3` builds it and opens it";
    check(&["edit", "take.mid", "--at", "3"], "", 2, "", &format!("{sentence}\n"));
}
