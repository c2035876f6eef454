//! The outside world, as a session needs it, and what it is shown.

use super::Outset;
use crate::at::At;
use crate::plan::{Plan, Words};
use crate::session::{Answer, Input, Logged, NudgeKind, Rep, Took};

/// An event with what is known about it beside the log.
#[derive(Debug, Clone, Copy)]
pub struct Happening<'a> {
    /// The event.
    pub logged: &'a Logged,
    /// For what was heard: when its last word ended, and how much sound had come in when it was decided.
    pub heard: Option<HeardTimes>,
    /// The rep that it made or changed, and its number counted from 1.
    pub rep: Option<(usize, &'a Rep)>,
    /// The words of its plan.
    pub words: &'a Words,
    /// For a take-back: what it took.
    pub took: Option<&'a Took>,
    /// For a detail or a change: whether it left the try as it was.
    pub idle: bool,
    /// Step worked on after it, counted from 1.
    pub working: u8,
    /// The plan of its session, where the sitting knows several.
    pub of: Option<&'a Plan>,
    /// Who trains after it, when somebody took over.
    pub person: Option<&'a str>,
}

/// Times of something heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardTimes {
    /// End of its last word.
    pub end: At,
    /// How much sound had come in when it was decided.
    pub decided: At,
}

/// The outside world, as a session needs it.
pub trait Shell {
    /// What follows is of the session at this place of the sitting.
    fn turn_to(&mut self, _place: usize) {}
    /// Puts something that happened and what followed from it on disk, all or nothing. False when it could not be
    /// saved: the shell keeps it and tries again, but must not acknowledge it.
    fn append(&mut self, logged: &[Logged]) -> bool;
    /// What came in and cannot be written to its session any more, since another program ended that or took it over;
    /// once. The session of its own that it goes into begins with `step`.
    fn adrift(&mut self, _step: u8) -> Option<Vec<(At, Input)>> {
        None
    }
    /// How the session begins that comes next at this place, by what is known now; at `step` when that is asked for.
    /// `None` when what the conductor was given stands.
    fn begins(&mut self, _place: usize, _step: Option<u8>) -> Option<Outset> {
        None
    }
    /// Shows an event, after it was to be put on disk.
    fn show(&mut self, happening: Happening);
    /// Plays a nudge.
    fn play(&mut self, at: At, nudge: NudgeKind);
    /// Says and shows an answer.
    fn say(&mut self, at: At, answer: &Answer);
}
