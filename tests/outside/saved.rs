//! A saved file as the system sees it: Debian's strace tells in which order it is written and named.

use std::fs;
use std::path::Path;
use std::process::Command;

/// What the program asks of the disk while it shapes a take into `folder`, in order.
fn steps(folder: &Path, more: &[&str]) -> Vec<&'static str> {
    let log = folder.join("strace.txt");
    let calls = "trace=fsync,fdatasync,rename,renameat,renameat2,link,linkat";
    let take = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/last-ferry.mid");
    let mut command = Command::new("strace");
    command.args(["-f", "-y", "-e", calls, "-o"]).arg(&log).arg(env!("CARGO_BIN_EXE_polso"));
    command.arg("shape").arg(take).args(["-i", "erhu", "-o"]).arg(folder.join("out.mid"));
    let output = command.args(more).output().expect("strace; cargo xtask outside installs it");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let log = fs::read_to_string(log).expect("strace's words");
    let own = folder.canonicalize().expect("a folder").to_string_lossy().into_owned();
    let step = |line: &str| {
        let is_sync = line.contains("sync(");
        if is_sync && line.contains(&format!("<{own}/.polso-")) {
            Some("sync the file")
        } else if is_sync && line.contains(&format!("<{own}>")) {
            Some("sync the folder")
        } else if !is_sync && line.contains("/.polso-") && line.contains("/out.take.mid\"") {
            Some("move the take")
        } else if !is_sync && line.contains("/.polso-") && line.contains("/out.mid\"") {
            Some("move it")
        } else {
            None
        }
    };
    log.lines().filter_map(step).collect()
}

#[test]
fn a_saved_file_is_on_the_disk_before_it_has_its_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let alone = ["sync the file", "move it", "sync the folder"];
    assert_eq!(steps(folder.path(), &["--no-take"]), alone, "a new file");
    assert_eq!(steps(folder.path(), &["--no-take", "--force"]), alone, "over another");
    std::fs::remove_file(folder.path().join("out.mid")).expect("a file");
    // Never a shaped file without its take.
    let both = ["sync the file", "sync the file", "move the take", "move it", "sync the folder"];
    assert_eq!(steps(folder.path(), &[]), both, "a take beside it");
    // The take lies there already.
    assert_eq!(steps(folder.path(), &["--force"]), alone, "over another");
}
