//! The project's chores: `cargo xtask test` shows that everything the README promises is true.

mod bundle;
mod cost;
mod figures;
mod fuzz;
mod mutants;
mod packages;
mod prove;
mod readme;
mod screen;
mod sounds;
mod steps;
mod tidy;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use steps::{PLUGIN, Steps, cargo, cargo_command, run};

const USE: &str = "\
cargo xtask test      everything: format, lints, tidiness, outside tools and data, tests
cargo xtask prove     the full counts, of which the tests play samples; with a name, that one
cargo xtask bundle    the plugin as CLAP and VST3 in target/bundled; with --release, optimised
cargo xtask tidy      only the project's own rules of tidiness; with a path, below it
cargo xtask cost      only count the instructions of a tick
cargo xtask compare   speed beside what people would use instead: minutes, on a quiet machine
cargo xtask fuzz N    N seconds of fuzzing for each target (needs cargo-fuzz)
cargo xtask mutants K/N [PACKAGE]   every Nth small fault of the engine, from the Kth on (0 is the
                      first): do its tests notice? Goes on where it stopped (needs cargo-mutants)
cargo xtask readme    writes into the README what its commands print today
cargo xtask sounds    makes the README's sounds of the example (needs opusenc: see outside)
cargo xtask pictures  paints the README's pictures of the window
cargo xtask outside   only install the outside tools and data that the tests read";

/// The crate whose tests are tested.
const ENGINE_PACKAGE: &str = "polso-engine";
/// Tests that load it, fast and with every promise checked.
const CHECKED: [&str; 4] = ["test", "--profile", "rtcheck", "--locked"];

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let root = root();
    let mut steps = Steps::default();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["test"] => test(&root, &mut steps),
        ["bundle"] => steps.run("bundle", || bundle::bundle(&root, false).map(drop)),
        ["bundle", "--release"] => steps.run("bundle", || bundle::bundle(&root, true).map(drop)),
        ["prove"] => prove::prove(&root, &mut steps, None),
        ["prove", name] => prove::prove(&root, &mut steps, Some(name)),
        ["tidy"] => steps.run("tidy", || tidy::check(&root, "")),
        ["tidy", under] => steps.run("tidy", || tidy::check(&root, under)),
        ["cost"] => steps.run("instructions of a tick", || cost::count(&root)),
        ["compare"] => steps.run("compare", || cost::compare(&root)),
        ["fuzz", seconds] if let Ok(seconds) = seconds.parse() => {
            steps.run("fuzz", || fuzz::fuzz(&root, seconds))
        }
        ["mutants", shard] => {
            steps.run("mutants", || mutants::mutants(&root, shard, ENGINE_PACKAGE))
        }
        ["mutants", shard, package] => {
            steps.run("mutants", || mutants::mutants(&root, shard, package))
        }
        ["readme"] => steps.run("readme", || readme::renew(&root)),
        ["pictures"] => steps.run("pictures", || {
            cargo(&root, &["run", "--example", "first_use", "--features", "editor"])
        }),
        ["sounds"] => steps.run("sounds", || sounds::renew(&root)),
        ["outside"] => steps.run("outside tools and data", || packages::install(&root)),
        _ => {
            eprintln!("{USE}");
            return ExitCode::from(2);
        }
    }
    steps.close()
}

/// Every step, the quick ones first. A step that fails does not keep the others from running.
fn test(root: &Path, steps: &mut Steps) {
    steps.run("format", || {
        cargo(root, &["fmt", "--all", "--check"])?;
        // These crates stand outside the workspace.
        cargo(root, &["fmt", "--manifest-path", "tests/fuzz/Cargo.toml", "--check"])?;
        cargo(root, &["fmt", "--manifest-path", "tests/loom/Cargo.toml", "--check"])
    });
    steps.run("tidy", || tidy::check(root, ""));
    steps.run("lints", || {
        cargo(
            root,
            &["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"],
        )?;
        let window = ["clippy", "--all-targets", "--features", "editor", "--locked"];
        cargo(root, &[&window[..], &["--", "-D", "warnings"]].concat())?;
        // The plugin has a global allocator of its own, as one of the other tests has.
        let plugin = ["clippy", "--lib", "--test", "hosts", "--test", "window", "--test", "grown"];
        let denied = ["--bench", "plugin", "--locked", "--", "-D", "warnings"];
        cargo(root, &[&plugin[..], &PLUGIN, &denied].concat())?;
        // Without its window it must be whole too.
        let bare = ["clippy", "--lib", "--no-default-features", "--features", "plugin"];
        cargo(root, &[&bare[..], &["--locked", "--", "-D", "warnings"]].concat())
    });
    steps.run("outside tools and data", || packages::install(root));
    steps.run("tests", || {
        figures::clear(root)?;
        let window = ["--features", "polso/editor"];
        let test = ["test", "--workspace", "--locked", "--no-fail-fast"];
        cargo(root, &[&test[..], &window].concat())
    });
    steps.run("played at once", || {
        // To a device that only listens; the system's own is built, and not opened.
        let lint = ["clippy", "--all-targets", "--features", "sound", "--locked"];
        cargo(root, &[&lint[..], &["--", "-D", "warnings"]].concat())?;
        let test = ["test", "--features", "sound", "--test", "sound", "--lib"];
        cargo(root, &[&test[..], &["--locked", "sound::"]].concat())?;
        cargo(root, &["test", "--features", "sound", "--test", "sound", "--locked"])
    });
    steps.run("a frame of the window", || {
        // Built as the tests are, so that nothing is built twice; the frame is dearer than released.
        let bench = ["bench", "--profile", "test", "--features", "editor", "--bench", "editor"];
        cargo(root, &[&bench[..], &["--locked", "--", "--test"]].concat())
    });
    steps.run("plugin in two hosts", || {
        // Projects are grown here too, since only the plugin has them.
        cargo(root, &[&CHECKED[..], &["--test", "hosts", "--test", "grown"], &PLUGIN].concat())
    });
    steps.run("hand-off in every order", || {
        // Its crate stands outside the workspace, since only the model needs it.
        let model = ["test", "--locked", "--manifest-path", "tests/loom/Cargo.toml"];
        cargo(root, &[&model[..], &["--target-dir", "target/loom"]].concat())
    });
    steps.run("the plugin's window", || {
        let words = [&CHECKED[..], &["--test", "window"], &PLUGIN, &["--", "--nocapture"]];
        screen::run(root, &words.concat(), &[])
    });
    steps.run("bundles in two hosts", || {
        for library in bundle::bundle(root, true)? {
            let words = [&CHECKED[..], &["--test", "hosts"], &PLUGIN].concat();
            run(cargo_command().args(words).env("POLSO_LIBRARY", library).current_dir(root))?;
        }
        Ok(())
    });
    steps.run("readme", || readme::check(root));
    steps.run("instructions of a tick", || cost::count(root));
    steps.run("figures", || figures::print(root));
}

/// The folder of the workspace.
fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}
