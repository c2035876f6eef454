//! Wires hearing, session and the outside world together. Drives the engine; decides nothing itself.

mod conductor;
mod json;
mod printer;
mod replay;

pub use conductor::{Conductor, Happening, Shell};
pub use json::JsonLines;
pub use printer::{Plain, Printer};
pub use replay::{Replayed, replay};
