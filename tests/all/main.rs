//! One test binary; a folder a subject.

#![allow(clippy::unwrap_used, reason = "a test fails where it stands")]

mod audio;
mod checks;
mod fetch;
mod needs;
mod review;
mod room;
