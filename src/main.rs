//! The program `polso`.

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
