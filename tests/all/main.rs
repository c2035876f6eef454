//! One test binary; a folder a subject.

mod fetch;
mod needs;
mod room;
