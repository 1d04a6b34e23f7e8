//! The verb itself: what it writes, what it refuses.

use std::path::Path;
use std::process::{Command, Output};

fn plot(folder: &Path, words: &[&str]) -> Output {
    let ferry = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.current_dir(folder).args(["plot", ferry, "-i", "erhu"]).args(words);
    command.output().expect("it runs")
}

#[test]
fn a_picture_is_written_once_and_only_where_it_may() {
    let folder = tempfile::tempdir().expect("a folder");
    let check = |words: &[&str], code: i32, said: &str| {
        let output = plot(folder.path(), words);
        let err = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{words:?}: {err}");
        assert!(err.contains(said), "{words:?}: {err}");
    };
    check(&["-o", "a.svg"], 0, "");
    check(&["-o", "a.svg"], 2, "the file exists; --force overwrites it");
    check(&["-o", "a.svg", "--force", "--dark"], 0, "");
    check(&["-o", "a.gif"], 2, "allowed is .svg or .png");
    check(&["-o", "b.svg", "--width", "20"], 2, "--width is 20; allowed is 700 to 8000");
    check(&["-o", "b.svg", "--bars", "99.."], 2, "--bars begins at bar 99");
    check(&["-o", "b.svg", "--with", "none.mid"], 2, "none.mid");
    let svg = std::fs::read_to_string(folder.path().join("a.svg")).expect("a picture");
    assert!(svg.starts_with("<svg xmlns=") && svg.ends_with("</svg>\n") && svg.contains("#14171c"));
    let output = plot(folder.path(), &["-o", "-"]);
    assert!(output.stdout.starts_with(b"<svg "), "- is standard output");
}

#[cfg(feature = "png")]
#[test]
fn a_png_has_two_pixels_a_unit_or_says_that_there_is_no_font() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = plot(folder.path(), &["-o", "a.png", "--width", "800", "--bars", "1..2"]);
    if output.status.code() == Some(2) {
        assert!(String::from_utf8_lossy(&output.stderr).contains("no font is installed"));
        return;
    }
    assert_eq!(output.status.code(), Some(0));
    let png = std::fs::read(folder.path().join("a.png")).expect("a picture");
    // PNG: the signature, then the size in the header.
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    assert_eq!(u32::from_be_bytes([png[16], png[17], png[18], png[19]]), 1600);
}
