//! Parses, calls, maps the exit code.

use std::process::ExitCode;

use clap::Parser;
use hushtally::cli::{self, Cli};
use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    tell_warnings();
    match cli::run(Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

/// Our own warnings go to the screen; `RUST_LOG=debug` asks for more, also of libraries.
fn tell_warnings() {
    let usual = || EnvFilter::new("hushtally=warn");
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| usual());
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .without_time()
        .with_target(false)
        .with_ansi(false)
        .init();
}
