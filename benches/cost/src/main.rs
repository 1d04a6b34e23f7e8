//! What a tick of the line costs, and what it is compared with: played, counted and timed here.

mod file;
mod floor;
#[path = "../../take/mod.rs"]
mod take;

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use take::{TICKS, cases};

/// A take so short that only the start counts.
const START_S: u64 = 4;

const USE: &str = "\
cost cases                   the names of the cases, a line each
cost play MINUTES CASE       plays a case; prints nanoseconds a tick and its messages
cost floor MINUTES           the same for the model's mathematics with nothing around it
cost take MINUTES TRACKS OUT.mid   writes a moving take
cost start OUT.mid           writes the shortest take, four seconds of it
cost copy IN.mid OUT.mid     reads a file and writes it, with nothing done to it";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let done = match words[..] {
        ["cases"] => {
            cases().iter().for_each(|case| println!("{}", case.name));
            Ok(())
        }
        ["play", minutes, name] => minutes_of(minutes).and_then(|count| play(count, name)),
        ["floor", minutes] => minutes_of(minutes).map(time_floor),
        ["take", minutes, tracks, to] => {
            minutes_of(minutes).and_then(|count| file::write_take(60 * count, tracks, to))
        }
        ["start", to] => file::write_take(START_S, "1", to),
        ["copy", from, to] => file::copy(from, to),
        _ => Err(USE.to_string()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::from(2)
        }
    }
}

fn minutes_of(word: &str) -> Result<u64, String> {
    let minutes = word.parse().ok().filter(|minutes| (1..=6000).contains(minutes));
    minutes.ok_or_else(|| format!("MINUTES is {word}; allowed is 1 to 6000"))
}

/// Plays a case over and over; every minute begins afresh.
fn play(minutes: u64, name: &str) -> Result<(), String> {
    let case = cases().into_iter().find(|case| case.name == name);
    let case = case.ok_or_else(|| format!("CASE is {name}; `cost cases` lists them"))?;
    let start = Instant::now();
    let mut messages = 0;
    for _ in 0..minutes {
        let tally = case.take.play(&mut case.engine.clone());
        if tally.hash != case.hash {
            return Err(format!("{name}: the answer is {:#018X}, not this revision's", tally.hash));
        }
        messages += tally.count;
    }
    tell(start, minutes, messages);
    Ok(())
}

fn time_floor(minutes: u64) {
    let start = Instant::now();
    let sum: f64 = (0..minutes).map(|_| floor::ticks(black_box(TICKS))).sum();
    black_box(sum);
    tell(start, minutes, 0);
}

fn tell(start: Instant, minutes: u64, messages: u64) {
    let ns = start.elapsed().as_nanos() as f64 / (minutes * TICKS) as f64;
    println!("{ns:.2} {messages}");
}
