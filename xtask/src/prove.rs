//! The full counts: all of every corpus, of which `cargo xtask test` plays samples, and the guide's
//! table of what came out.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Instant, SystemTime, UNIX_EPOCH};

use crate::packages;
use crate::screen;
use crate::steps::{PLUGIN, Steps, cargo_command, read, run};

/// Every full count: its name, and the test target and filter that play it.
const GROUPS: [(&str, &str, &str); 10] = [
    ("digests", "outside", "digests::"),
    ("folk", "outside", "corpus::folk"),
    ("recorded", "outside", "corpus::recorded"),
    ("peel", "outside", "peel::"),
    ("survival", "outside", "survival::"),
    ("economy", "outside", "economy::"),
    ("readers", "outside", "readers::"),
    ("audit", "audit", "folk::"),
    ("grown", "grown", "a_grown"),
    (WINDOW, WINDOW, "never_black"),
];
/// The tests that need a display, and the plugin.
const WINDOW: &str = "window";
/// Released code that checks its promises.
const CHECKED: [&str; 5] = ["test", "--profile", "rtcheck", "--locked", "--test"];
const GUIDE: &str = "DEVELOPERS.md";
/// The heading above the table.
const HEADING: &str = "## Full counts";

/// Plays one group by its name, or all of them.
pub fn prove(root: &Path, steps: &mut Steps, name: Option<&str>) {
    let groups: Vec<_> =
        GROUPS.into_iter().filter(|group| name.is_none_or(|name| group.0 == name)).collect();
    if groups.is_empty() {
        let names = GROUPS.map(|group| group.0).join(", ");
        steps.run("prove", || Err(format!("{} is none of {names}", name.unwrap_or_default())));
        return;
    }
    steps.run("outside tools and data", || packages::install(root));
    for group in groups {
        steps.run(group.0, || prove_group(root, group));
    }
}

/// Plays a group, prints its row of the table and writes it into the guide, also if it failed.
fn prove_group(root: &Path, (name, target, filter): (&str, &str, &str)) -> Result<(), String> {
    let figures = root.join("target/outside/proven");
    let _ = fs::remove_dir_all(&figures);
    let commit = commit(root)?;
    let start = Instant::now();
    let done = play(root, target, filter);
    let minutes = start.elapsed().as_secs_f64() / 60.0;
    let said = said(&figures);
    // A filter that meets no test is no proof.
    let done = done.and_then(|()| match said.is_empty() {
        true => Err(format!("no test of {name} has written what it played")),
        false => Ok(()),
    });
    let result = match &done {
        Ok(()) => format!("fine: {}", said.join("; ")),
        Err(_) => "FAILED".to_owned(),
    };
    let row = format!("| {name} | {} | {commit} | {minutes:.1} | {result} |", today());
    println!("{row}");
    let path = root.join(GUIDE);
    let guide = fs::read_to_string(&path).map_err(|error| format!("{GUIDE}: {error}"))?;
    fs::write(&path, with_row(&guide, name, &row)?).map_err(|error| format!("{GUIDE}: {error}"))?;
    done
}

/// Runs the tests of a group over all of their corpus.
fn play(root: &Path, target: &str, filter: &str) -> Result<(), String> {
    let whole = [("POLSO_PROVE", "1")];
    let mut words = CHECKED.to_vec();
    words.push(target);
    if target == WINDOW {
        words.extend(PLUGIN);
    }
    words.extend([filter, "--", "--nocapture"]);
    match target {
        WINDOW => screen::run(root, &words, &whole),
        _ => run(cargo_command().args(words).envs(whole).current_dir(root)),
    }
}

/// The first lines of what the tests have written, by the names of their files.
fn said(figures: &Path) -> Vec<String> {
    let entries = fs::read_dir(figures).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    paths.sort();
    let texts = paths.iter().filter_map(|path| fs::read_to_string(path).ok());
    let first = |text: String| {
        Some(text.lines().next()?.trim_end_matches(':').replace('|', "/"))
            .filter(|it| !it.is_empty())
    };
    texts.filter_map(first).collect()
}

/// The commit that is proven, and whether something else than what was committed is.
fn commit(root: &Path) -> Result<String, String> {
    let git = |words: &[&str]| read(Command::new("git").args(words).current_dir(root));
    let commit = git(&["rev-parse", "--short", "HEAD"])?.trim().to_owned();
    let changed = git(&["status", "--porcelain", "--untracked-files=no"])?;
    // The rows of the groups before stand in the guide and are not yet committed.
    let is_other = changed.lines().any(|line| !line.ends_with(GUIDE));
    Ok(if is_other { format!("{commit} with changes") } else { commit })
}

/// The guide with the group's row in the table below the heading, in place of an earlier one.
fn with_row(guide: &str, name: &str, row: &str) -> Result<String, String> {
    let mut lines: Vec<&str> = guide.lines().collect();
    let missing = || format!("{GUIDE} has no table below `{HEADING}`");
    let heading = lines.iter().position(|line| *line == HEADING).ok_or_else(missing)?;
    let is_row = |line: &&str| line.starts_with('|');
    let below = lines[heading..].iter().position(is_row).ok_or_else(missing)?;
    let first = heading + below;
    let count = lines[first..].iter().take_while(|line| is_row(line)).count();
    let own = format!("| {name} |");
    match lines[first..first + count].iter().position(|line| line.starts_with(&own)) {
        Some(place) => lines[first + place] = row,
        None => lines.insert(first + count, row),
    }
    Ok(lines.join("\n") + "\n")
}

/// The day in Greenwich, as ISO 8601 writes it.
fn today() -> String {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
    date(now / 86_400)
}

/// A day of the Gregorian calendar, counted from the first of 1970.
fn date(mut day: u64) -> String {
    let is_leap =
        |year: u64| year.is_multiple_of(4) && !year.is_multiple_of(100) || year.is_multiple_of(400);
    let mut year = 1970;
    while day >= 365 + u64::from(is_leap(year)) {
        day -= 365 + u64::from(is_leap(year));
        year += 1;
    }
    let february = 28 + u64::from(is_leap(year));
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30] {
        if day < length {
            break;
        }
        day -= length;
        month += 1;
    }
    format!("{year}-{month:02}-{:02}", day + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_have_their_dates() {
        for (day, expected) in [
            (0, "1970-01-01"),
            (58, "1970-02-28"),
            (59, "1970-03-01"),
            (789, "1972-02-29"),
            (10_957, "2000-01-01"),
            (11_016, "2000-02-29"),
            (20_453, "2025-12-31"),
            (20_454, "2026-01-01"),
        ] {
            assert_eq!(date(day), expected, "{day}");
        }
    }

    #[test]
    fn a_row_takes_the_place_of_its_groups_earlier_one() {
        let guide = format!("# A\n\n| folk | a |\n\n{HEADING}\n\nb\n\n| group |\n| --- |\nc\n");
        let with_folk = with_row(&guide, "folk", "| folk | 1 |").expect("a table");
        assert_eq!(with_folk, guide.replace("--- |\n", "--- |\n| folk | 1 |\n"));
        let with_both = with_row(&with_folk, "peel", "| peel | 2 |").expect("a table");
        let renewed = with_row(&with_both, "folk", "| folk | 3 |").expect("a table");
        assert_eq!(renewed, guide.replace("--- |\n", "--- |\n| folk | 3 |\n| peel | 2 |\n"));
        assert!(with_row("# A\n\n| folk |\n", "folk", "| folk | 1 |").is_err());
    }
}
