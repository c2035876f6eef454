//! Parses, calls, maps the exit code.

use std::process::ExitCode;

use hushtally::cli;
use hushtally::terminal::Out;
use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    tell_warnings();
    cli::main()
}

/// Our own warnings go to the screen; `RUST_LOG=debug` asks for more, also of libraries.
fn tell_warnings() {
    let usual = || EnvFilter::new("hushtally=warn");
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| usual());
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(Out::errors)
        // It would print them past us.
        .log_internal_errors(false)
        .without_time()
        .with_target(false)
        .with_ansi(false)
        .init();
}
