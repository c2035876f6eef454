//! Which words are listened for: those for choosing, or those of a plan.

use crate::dialogue::{Dialogue, Place, Question};

/// Which words are listened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    /// Those for choosing.
    Lobby,
    /// Those of this plan.
    Plan(usize),
    /// None any more.
    Over,
}

/// The phase that the dialogue is in.
pub(super) fn phase_of(dialogue: &Dialogue) -> Phase {
    let choosing = matches!(dialogue.question(), Some(Question::Which { .. } | Question::Next(_)));
    match dialogue.place() {
        Place::Over => Phase::Over,
        Place::Lobby => Phase::Lobby,
        Place::Ready(_) if choosing => Phase::Lobby,
        Place::Ready(index) | Place::Training(index) => Phase::Plan(index),
    }
}
