//! What each verb takes for the worst inputs of 1 MB, and for the same grown to twice the size.
//!
//! `cargo run --release -p worst -- [--verb WORDS] [--input WORDS] [--binary PATH] [--write FOLDER]`
//! builds the program and runs it, or another one; `--write` only leaves the takes in a folder. A
//! row says seconds of the processor and peak KiB at both sizes; `over` marks what is beyond the
//! limit of 1 MB, and `steep` what grows faster than its input.

mod tables;
mod takes;
mod track;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use takes::WorstTake;

/// Bytes of the smaller takes.
const SIZE: usize = 1_000_000;
/// What ten minutes of music may take, seconds, and each further hour on top.
const LIMIT_S: f64 = 2.0;
const LIMIT_S_PER_HOUR: f64 = 1.0;
/// The most memory, KiB.
const LIMIT_KIB: u64 = 200 * 1024;
/// A run that takes longer is ended, seconds.
const PATIENCE_S: u32 = 60;
/// Twice the input may take this many times as long; shorter times say nothing.
const STEEP: f64 = 3.0;
const STEEP_S_MIN: f64 = 0.2;
/// How GNU time tells that coreutils' `timeout` has ended a run.
const TIMED_OUT: &str = "status 124";
/// GNU time: seconds of a process and of the system for it, and its peak KiB.
const TIME: &str = "/usr/bin/time";

/// A verb, and its words for an input; `IN` and `OUT` stand for the files.
type Call = (&'static str, &'static str);

const SHAPE: Call = ("shape", "shape IN -o OUT.mid --force -i violin");
const TAKE_VERBS: [Call; 13] = [
    ("look", "look IN"),
    SHAPE,
    ("shape, some bars", "shape IN -o OUT.bars.mid --force -i violin --bars 1..40"),
    ("shape again", "shape OUT.mid -o OUT.again.mid --force -i violin"),
    ("peel", "peel OUT.mid -o OUT.peeled.mid --force"),
    ("peel, edited", "peel OUT.edited.mid -o OUT.peeled.mid --force"),
    ("trace", "trace IN -i violin -o OUT.csv --every 100 --force"),
    ("audit", "audit IN -i violin"),
    ("audit, page", "audit IN -i violin --page OUT.page.svg --force"),
    ("plot", "plot IN -i violin -o OUT.svg --force"),
    ("contrast", "contrast IN OUT.mid"),
    ("contrast, itself", "contrast IN IN"),
    ("contrast, within", "contrast IN OUT.mid --json --within 50ms --within 3steps"),
];
const INSTRUMENT_VERBS: [Call; 3] = [
    ("vet", "vet IN"),
    ("show", "show IN"),
    ("shape by it", "shape TAKE -o OUT.mid --force -i IN"),
];
const WISH_VERBS: [Call; 1] =
    [("shape, wishes", "shape TAKE -o OUT.mid --force -i violin --wishes IN")];

/// What a run took.
#[derive(Clone, Copy)]
struct Cost {
    seconds: f64,
    peak_kib: u64,
}

/// What is run: verbs and inputs whose names hold these words.
struct Bench {
    verb: String,
    input: String,
    binary: PathBuf,
    folder: PathBuf,
}

fn main() -> ExitCode {
    match bench() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

fn bench() -> io::Result<()> {
    let (mut verb, mut input, mut binary) = (String::new(), String::new(), None);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().unwrap_or_default();
        match word.as_str() {
            "--verb" => verb = value,
            "--input" => input = value,
            "--binary" => binary = Some(PathBuf::from(value)),
            "--write" => return write(Path::new(&value)),
            _ => {
                let allowed = "allowed is --verb, --input, --binary, --write";
                return Err(io::Error::other(format!("{word}: {allowed}")));
            }
        }
    }
    let binary = binary.map_or_else(built, Ok)?;
    let folder = tempfile::tempdir()?;
    let bench = Bench { verb, input, binary, folder: folder.path().to_owned() };
    println!("| input | verb | s | x2 s | ratio | peak KiB | x2 peak KiB | |");
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    for (small, large) in takes::takes(SIZE).iter().zip(takes::takes(2 * SIZE)) {
        bench.on(&TAKE_VERBS, small.name, [&small.bytes, &large.bytes], small.hours)?;
    }
    let WorstTake { bytes, .. } = takes::slurred(10_000);
    fs::write(bench.folder.join("take.mid"), bytes)?;
    // Text files are refused above 1 MiB, so that is their larger size.
    let instruments = tables::instruments(SIZE / 2).into_iter().zip(tables::instruments(SIZE));
    for ((name, small), (_, large)) in instruments {
        bench.on(&INSTRUMENT_VERBS, name, [small.as_bytes(), large.as_bytes()], 0.0)?;
    }
    let wishes = tables::wishes(SIZE / 2).into_iter().zip(tables::wishes(SIZE));
    for ((name, small), (_, large)) in wishes {
        bench.on(&WISH_VERBS, name, [small.as_bytes(), large.as_bytes()], 0.0)?;
    }
    Ok(())
}

/// Leaves the takes in a folder.
fn write(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    for WorstTake { name, bytes, .. } in takes::takes(SIZE) {
        let name = name.replace(',', "").replace(' ', "-");
        fs::write(folder.join(format!("{name}.mid")), &bytes)?;
    }
    Ok(())
}

/// The program, built from what stands here.
fn built() -> io::Result<PathBuf> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let build = ["build", "--release", "--locked", "--bin", "polso"];
    match Command::new(cargo).args(build).current_dir(&root).status()?.success() {
        true => Ok(root.join("target/release/polso")),
        false => Err(io::Error::other("the program cannot be built")),
    }
}

impl Bench {
    /// Runs the verbs on an input of two sizes and prints a row for each.
    fn on(&self, verbs: &[Call], name: &str, sizes: [&[u8]; 2], hours: f64) -> io::Result<()> {
        let verbs: Vec<&Call> =
            verbs.iter().filter(|(verb, _)| verb.contains(&self.verb)).collect();
        if verbs.is_empty() || !name.contains(&self.input) {
            return Ok(());
        }
        let needs_shaped = verbs[0].1.contains("OUT.") && *verbs[0] != SHAPE;
        let mut columns = Vec::new();
        for bytes in sizes {
            fs::write(self.folder.join("in"), bytes)?;
            // What `shape` refuses is peeled and compared as it stands.
            fs::write(self.folder.join("out.mid"), bytes)?;
            if needs_shaped {
                self.measure(SHAPE.1)?;
            }
            let mut column = Vec::new();
            for (_, words) in &verbs {
                if words.contains("edited") {
                    let shaped = fs::read(self.folder.join("out.mid"))?;
                    fs::write(self.folder.join("out.edited.mid"), takes::edited(shaped))?;
                }
                column.push(self.measure(words)?);
            }
            columns.push(column);
        }
        for ((verb, _), (once, twice)) in verbs.iter().zip(columns[0].iter().zip(&columns[1])) {
            row(name, verb, *once, *twice, hours);
        }
        Ok(())
    }

    /// Runs the program once. Refusing an input is an answer too.
    fn measure(&self, words: &str) -> io::Result<Cost> {
        let measured = self.folder.join("measured");
        let path = |name: &str| self.folder.join(name).to_string_lossy().into_owned();
        let words = words.split(' ').map(|word| match word {
            "IN" => path("in"),
            "TAKE" => path("take.mid"),
            word => word.replace("OUT", &path("out")),
        });
        let mut command = Command::new(TIME);
        command.args(["-f", "%U %S %M", "-o"]).arg(&measured);
        command.args(["timeout", &PATIENCE_S.to_string()]).arg(&self.binary).args(words);
        command.output()?;
        let text = fs::read_to_string(&measured)?;
        // A line before tells an exit code other than 0.
        let last = text.lines().next_back().unwrap_or_default();
        let numbers: Vec<f64> = last.split(' ').flat_map(str::parse).collect();
        match numbers[..] {
            [user_s, system_s, peak_kib] => {
                let is_ended = text.contains(TIMED_OUT);
                let seconds = if is_ended { f64::INFINITY } else { user_s + system_s };
                Ok(Cost { seconds, peak_kib: peak_kib as u64 })
            }
            _ => Err(io::Error::other(format!("{TIME} said `{text}`"))),
        }
    }
}

fn row(input: &str, verb: &str, once: Cost, twice: Cost, hours: f64) {
    let ratio = twice.seconds / once.seconds.max(0.01);
    let limit_s = LIMIT_S + LIMIT_S_PER_HOUR * (hours - 600.0 / 3600.0).max(0.0);
    let is_over = once.seconds > limit_s || once.peak_kib > LIMIT_KIB;
    let is_steep = once.seconds > STEEP_S_MIN && ratio > STEEP;
    let marks = [is_over.then_some("over"), is_steep.then_some("steep")];
    let marks: Vec<&str> = marks.into_iter().flatten().collect();
    println!(
        "| {input} | {verb} | {:.2} | {:.2} | {ratio:.1} | {} | {} | {} |",
        once.seconds,
        twice.seconds,
        once.peak_kib,
        twice.peak_kib,
        marks.join(", ")
    );
}
