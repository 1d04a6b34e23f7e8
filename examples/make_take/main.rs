//! Plays the take "The last ferry" and writes it down: `cargo run --example make_take`.

mod melody;
mod take;
mod wheel;

use std::process::ExitCode;

fn main() -> ExitCode {
    let path = std::env::args().nth(1).unwrap_or_else(|| "examples/last-ferry.mid".to_string());
    match std::fs::write(&path, take::bytes()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{path}: {error}");
            ExitCode::from(2)
        }
    }
}
