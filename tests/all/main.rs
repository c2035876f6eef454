//! One test binary; a folder a subject.

#![allow(clippy::unwrap_used, reason = "a test fails where it stands")]

mod architecture;
mod audio;
mod checks;
mod fetch;
mod hearing;
mod history;
mod live;
mod needs;
mod room;
mod speech;
