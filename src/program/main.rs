//! Parses, calls, maps the exit code.

use std::process::ExitCode;

use hushtally::cli;
use hushtally::terminal::Out;
use tracing_subscriber::filter::{LevelFilter, Targets};
use tracing_subscriber::prelude::*;

fn main() -> ExitCode {
    tell_warnings();
    cli::main()
}

/// Our own warnings go to the screen; `RUST_LOG=debug` asks for more, also of libraries.
fn tell_warnings() {
    let asked: Option<Targets> =
        std::env::var("RUST_LOG").ok().and_then(|asked| asked.parse().ok());
    let usual = || Targets::new().with_target("hushtally", LevelFilter::WARN);
    let lines = tracing_subscriber::fmt::layer()
        .with_writer(Out::errors)
        // It would print them past us.
        .log_internal_errors(false)
        .without_time()
        .with_target(false)
        .with_ansi(false);
    tracing_subscriber::registry().with(lines).with(asked.unwrap_or_else(usual)).init();
}
