//! What a tick costs in instructions, which do not depend on the machine's mood, and in comparison
//! with what people would use instead.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::packages;
use crate::steps::{cargo, run};

/// Instructions of a tick on x86-64 with Rust 1.95, and the least and the most that they may become
/// unnoticed: a fault must not creep in, and a gain must be written down here.
const CASES: [(&str, u64); 6] = [
    (ONE_LINE, 640),
    ("moving, driven", 590),
    ("held, performed", 390),
    ("held, driven", 295),
    (EIGHT_LINES, 4040),
    ("idle", 18),
];
/// One line and eight of them under one gesture, and how many times one the eight may cost.
const ONE_LINE: &str = "moving, performed";
const EIGHT_LINES: &str = "eight lines";
const EIGHT_TIMES_MAX: f64 = 7.4;
const TOLERANCE_PERCENT: u64 = 5;
/// Ticks of a minute.
const TICKS: u64 = 60_000;

/// Counts the instructions of every case.
pub fn count(root: &Path) -> Result<(), String> {
    let cost = build(root)?;
    if !cfg!(target_arch = "x86_64") {
        println!("not counted: the numbers are those of x86-64");
        return Ok(());
    }
    let mut faults = Vec::new();
    let (mut one, mut eight) = (0, 0);
    for (case, expected) in CASES {
        // The second minute alone: what comes before the first is no part of it.
        let found = (instructions(&cost, 2, case)? - instructions(&cost, 1, case)?) / TICKS;
        println!("{case}: {found} instructions a tick, {expected} expected");
        match case {
            ONE_LINE => one = found,
            EIGHT_LINES => eight = found,
            _ => {}
        }
        if found.abs_diff(expected) * 100 > expected * TOLERANCE_PERCENT + 100 {
            faults.push(format!("{case} costs {found} instructions a tick, not {expected}"));
        }
    }
    let times = eight as f64 / one as f64;
    println!("eight lines cost {times:.2} times one");
    if times > EIGHT_TIMES_MAX {
        faults.push(format!("eight lines cost {times:.2} times one; at most {EIGHT_TIMES_MAX}"));
    }
    if faults.is_empty() { Ok(()) } else { Err(faults.join("; ")) }
}

/// Prints the table that stands in DEVELOPERS.md.
pub fn compare(root: &Path) -> Result<(), String> {
    packages::install(root)?;
    let cost = build(root)?;
    let folder = root.join("target/compare");
    std::fs::create_dir_all(&folder).map_err(|error| format!("target/compare: {error}"))?;
    let mut race = Command::new(packages::python(&root.join("target/outside")));
    race.arg(root.join("benches/beside/race.py"));
    run(race.arg(cost.with_file_name("polso")).arg(&cost).arg(folder))
}

/// Builds the program and what is compared with it.
fn build(root: &Path) -> Result<PathBuf, String> {
    cargo(root, &["build", "--release", "--locked", "--package", "cost", "--package", "polso"])?;
    Ok(root.join("target/release/cost"))
}

fn instructions(cost: &Path, minutes: u64, case: &str) -> Result<u64, String> {
    let file = "--callgrind-out-file=/dev/null";
    let mut command = Command::new("valgrind");
    command.args(["--tool=callgrind", file]).arg(cost).args(["play", &minutes.to_string(), case]);
    let said = command.output().map_err(|error| format!("valgrind cannot run: {error}"))?;
    let text = String::from_utf8_lossy(&said.stderr);
    let line = text.lines().find(|line| line.contains("Collected :"));
    let count = line.and_then(|line| line.rsplit(' ').next()?.parse().ok());
    count.filter(|_| said.status.success()).ok_or_else(|| format!("{case}: {}", text.trim()))
}
