//! Parses, calls, maps the exit code.

use std::process::ExitCode;

use clap::Parser;
use hushtally::cli::{self, Cli};

fn main() -> ExitCode {
    match cli::run(Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}
