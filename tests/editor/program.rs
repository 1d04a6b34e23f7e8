//! The verb `edit`: a picture without a display, and a plain sentence where no window can be.

use std::process::{Command, Output};

fn polso(words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.args(words).env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command.current_dir(env!("CARGO_MANIFEST_DIR")).output().expect("the program runs")
}

fn check_refused(words: &[&str], sentence: &str) {
    let output = polso(words);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(sentence), "{said}");
    assert_eq!(said.trim_end().lines().count(), 1, "{said}");
}

#[cfg(target_os = "linux")]
#[test]
fn without_a_display_there_is_a_sentence_and_exit_2() {
    check_refused(&["edit", "examples/last-ferry.mid"], "is there a display?");
}

#[test]
fn a_take_that_is_none_is_refused_before_any_window() {
    check_refused(&["edit", "README.md"], "README.md: ");
    check_refused(&["edit", "-i", "erhuu"], "erhu");
}

#[test]
fn the_window_is_painted_into_a_file_that_is_not_overwritten_unless_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("window.png");
    let picture = path.to_string_lossy();
    let words = ["edit", "examples/last-ferry.mid", "--at", "15", "--picture", &picture];
    assert!(polso(&words).status.success());
    let bytes = std::fs::read(&path).expect("a picture");
    assert_eq!(&bytes[1..4], b"PNG");
    // Width and height stand in the first chunk (PNG 1.2, 4.1.1).
    assert_eq!(bytes[16..24], [0, 0, 5, 0, 0, 0, 3, 32], "1280 by 800");
    check_refused(&words, "the file exists");
    assert!(polso(&[&words[..], &["--force"]].concat()).status.success());
}
