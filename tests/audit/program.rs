//! The verb itself: its exits, its keys, its words.

use std::io::Write;
use std::process::{Command, Output};

use super::room::{Struck, take};
use serde_json::Value as Json;

fn audit(notes: &[Struck], words: &[&str]) -> Output {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    file.write_all(&take(notes, &[])).expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.arg("audit").arg(file.path()).args(words).output().expect("it runs")
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

#[test]
fn the_exit_says_whether_there_is_anything() {
    let check = |notes: &[Struck], words: &[&str], expected: i32| {
        let output = audit(notes, words);
        assert_eq!(output.status.code(), Some(expected), "{words:?}: {output:?}");
    };
    check(&[(69, 0, 500)], &["-i", "erhu"], 0);
    check(&[(61, 0, 500)], &["-i", "erhu"], 1);
    check(&[(61, 0, 500)], &["-i", "erhu", "--json"], 1);
    check(&[(61, 0, 500)], &["-i", "no-such-thing"], 2);
    check(&[], &["-i", "erhu"], 2);
    check(&[(61, 0, 500)], &["-i", "erhu", "--bars", "9..8"], 2);
}

#[test]
fn the_text_says_where_what_and_what_to_do() {
    let output = audit(&[(69, 0, 500), (61, 2500, 3000)], &["-i", "erhu"]);
    let expected = "\
bar 2, beat 2, C#4: impossible: C#4 lies below the lowest note of the instrument, D4 (high \
confidence). C#5 is the same note where the instrument is at ease.\n\
1 impossible, 0 hard, 0 unidiomatic. These are rules of thumb. Where the player knows better, \
the player is right.\n";
    assert_eq!(out(&output), expected);
    assert_eq!(
        out(&audit(&[(69, 0, 500)], &["-i", "erhu"])),
        "Nothing here that a player could not play.\n"
    );
}

#[test]
fn the_object_has_these_keys_and_no_others() {
    let output = audit(&[(61, 2500, 3000)], &["-i", "erhu", "--json"]);
    let object: Json = serde_json::from_str(&out(&output)).expect("one object");
    let keys =
        |value: &Json| value.as_object().expect("an object").keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&object), ["findings"]);
    let finding = &object["findings"][0];
    let expected = ["rule", "bar", "beat", "tick", "key", "severity", "sentence", "suggestion"];
    assert_eq!(keys(finding), expected);
    assert_eq!(finding["rule"], "range");
    assert_eq!((finding["bar"].as_u64(), finding["beat"].as_u64()), (Some(2), Some(2)));
    assert_eq!((finding["tick"].as_u64(), finding["key"].as_u64()), (Some(2500), Some(61)));
    assert_eq!(finding["severity"], "impossible");
    let none = audit(&[(69, 0, 500)], &["-i", "erhu", "--json"]);
    assert_eq!(out(&none), "{\"findings\":[]}\n");
}
