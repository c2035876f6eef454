//! One test binary; a folder a subject.

#![allow(clippy::unwrap_used, reason = "a test fails where it stands")]

mod audio;
mod checks;
mod fetch;
mod hostile;
mod keep;
mod needs;
mod privacy;
mod room;
