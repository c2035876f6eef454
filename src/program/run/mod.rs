//! Wires hearing, session and the outside world together. Drives the engine; decides nothing itself.

mod answers;
mod aside;
mod carry_out;
mod choosing;
#[cfg(test)]
mod clock_faults;
mod conductor;
mod desk;
mod driver;
mod ears_thread;
mod hook;
pub(crate) mod json;
mod live;
mod lot;
mod mic;
mod outset;
mod own_voice;
#[cfg(test)]
mod owner_faults;
mod phase;
mod plans;
mod printer;
mod probe;
mod quiz;
mod recorder;
mod replay;
mod resume;
mod said;
mod settle;
#[cfg(test)]
mod several;
mod signals;
mod soundcheck;
mod sounds;
mod stage;
pub mod tags;
mod talk;
mod teach;
mod trial;
mod typed;
mod typing;

pub use aside::{Devices, OnStage};
pub use conductor::{Conductor, Happening, HeardTimes, Shell, Turn};
pub use desk::Desk;
pub use hook::{Hook, Hooked};
pub use json::JsonLines;
pub use lot::{draw, tests_of};
pub use outset::{Outset, treats_used_up};
pub use printer::{Plain, Printer, Status};
pub use quiz::{Quizzing, drawn, quiz};
pub use recorder::{Origin, Recorder};
pub use replay::{Replayed, replay};
pub use resume::{Resumable, Resumed, Unfinished};
pub use settle::{Book, Settling, doubts, settle, settle_doubt};
pub use signals::Signals;
pub use soundcheck::{CheckUp, CheckedUp, soundcheck};
pub use sounds::{Sounds, Tuning};
pub use talk::{Chosen, LiveEnd, MakeEars, Shelf, Talk, talk};
pub use teach::{Teaching, tags_in, teach};
pub use typing::{Answering, Switching, Typed, Typing};
