//! Lets a fuzzer look for whatever the tests did not think of, target by target.

use std::path::Path;

use crate::steps::{cargo_command, run};

/// What is fuzzed: the targets of `tests/fuzz`.
const TARGETS: [&str; 4] = ["events", "file", "profile", "state"];
/// The most bytes of one input: they are choices, not contents.
const BYTES_MAX: u32 = 320;

/// Runs every target for so many seconds. What it has learnt stays in `target/fuzz`.
pub fn fuzz(root: &Path, seconds: u32) -> Result<(), String> {
    let target = root.join("target/fuzz");
    for name in TARGETS {
        let corpus = target.join("corpus").join(name);
        std::fs::create_dir_all(&corpus)
            .map_err(|error| format!("{}: {error}", corpus.display()))?;
        let mut command = cargo_command();
        // The flags that cargo-fuzz hands on are not stable; nothing else needs a nightly.
        command.env("RUSTC_BOOTSTRAP", "1").current_dir(root);
        // No part of the project is unsafe, so there is nothing for a sanitizer to see.
        command.args(["fuzz", "run", "--fuzz-dir", "tests/fuzz", "--sanitizer", "none"]);
        command.arg("--target-dir").args([&target]).arg(name).arg(&corpus).arg("--");
        command.arg(format!("-max_total_time={seconds}")).arg(format!("-max_len={BYTES_MAX}"));
        command.args(["-len_control=20", "-timeout=60", "-print_final_stats=1"]);
        run(&mut command)
            .map_err(|error| format!("{error}; cargo install cargo-fuzz brings it"))?;
    }
    Ok(())
}
