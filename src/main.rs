//! Parses, calls, maps the exit code.

fn main() {}
