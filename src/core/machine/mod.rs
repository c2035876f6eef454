//! The one contract of everything that talks with the trainer: what happens and the time go in, effects come out. Pure.
//!
//! The session, the dialogue around it, settling, the sound check, the quiz and lessons are each such a machine, and one driver
//! (`run`) drives whichever is on. The driver alone owns microphone, keys, clock and speech; a machine owns what is
//! said and decided. It keeps these promises:
//!
//! - Time is an argument and never goes back. An input carries the moment at which it began, however late it is known.
//! - What comes due by itself comes due at the moment that [`Machine::wake_at`] returned. So nobody has to ask again and
//!   again: the driver sleeps till then.
//! - Calling `pass` more often makes no difference to what comes out.
//! - Effects are carried out in order, each once. What became of one comes back as an input.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::Machine;
//! use hushtally_core::quiz::{QuizInput, Quiz};
//! use hushtally_core::session::NudgeFamily;
//! let (mut quiz, _taught) = Quiz::begin(vec![NudgeFamily::EndSoon]);
//! assert_eq!(quiz.wake_at(), None, "it waits until what it says was heard");
//! let _nothing = quiz.handle(Duration::from_secs(9), QuizInput::Quiet);
//! let due = quiz.wake_at().expect("an answer is waited for");
//! assert!(quiz.pass(due - Duration::from_millis(1)).is_empty());
//! assert!(!quiz.pass(due).is_empty(), "it asks again");
//! ```

mod choices;

pub use choices::{Choices, Label, Leads, Offer, in_parts};

use crate::interpret::Said;

/// What happens and the time in, effects out.
pub trait Machine {
    /// By which its time is counted: the steady clock's [`Duration`](std::time::Duration), or a session's [`At`](crate::at::At).
    type Time: Copy + Ord;
    /// What happens to it.
    type Input: Clone + PartialEq;
    /// What it asks of the world.
    type Effect;

    /// Takes in what happened at `at`.
    #[must_use = "an effect not carried out is lost"]
    fn handle(&mut self, at: Self::Time, input: Self::Input) -> Vec<Self::Effect>;

    /// Lets time pass up to `to`: nothing that began earlier can still come.
    #[must_use = "an effect not carried out is lost"]
    fn pass(&mut self, to: Self::Time) -> Vec<Self::Effect>;

    /// When [`Machine::pass`] has something to do next, if nothing else happens.
    fn wake_at(&self) -> Option<Self::Time>;

    /// What can be taken now, for whoever has one switch and no voice: each with the inputs that it stands for.
    fn choices(&self) -> Choices<Self::Input> {
        Choices::none()
    }

    /// Somebody chooses by a switch until then: a question waits from that moment on as long as at first, and nothing is
    /// listened for in its place.
    fn choosing(&mut self, _until: Self::Time) {}
}

/// An answer to a question, as every machine that asks is given it.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// A tag or command.
    Said {
        /// What it means.
        said: Said,
        /// Its words; none for a switch.
        words: String,
        /// By a key, a switch or a line, and not by voice.
        keyed: bool,
    },
    /// Something that may be a tag.
    Unsure {
        /// The likelier reading.
        words: String,
    },
}
