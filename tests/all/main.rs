//! One test binary; a folder a subject.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "tells what was done and measured")]
#![allow(clippy::unwrap_used, reason = "a test fails where it stands")]
#![allow(
    clippy::disallowed_methods,
    reason = "a test stands outside the program and may look at the clock"
)]

mod aloud;
mod architecture;
mod audio;
mod checks;
mod counting;
mod dialogue;
mod ears;
mod end_to_end;
mod fetch;
mod glossary;
mod golden;
mod health;
mod hearing;
mod history;
mod hostile;
mod keep;
mod live;
mod models;
mod needs;
mod nudges;
mod pages_text;
mod personal;
mod privacy;
mod review;
mod room;
mod scripts;
mod sentences;
mod settle;
mod soundcheck;
mod speech;
mod strangers;
mod teach;
mod terminal;
mod typed;
