//! What happens in a session beside its tries.

use std::time::Duration;

use super::EventId;
use crate::at::At;

/// Something that happened and is not a rep.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Session time.
    pub at: At,
    /// Active time.
    pub active: Duration,
    /// What sort of thing.
    pub kind: MarkKind,
    /// Which: a nudge's or mood's name, a step's number, the words of a doubt, the start of a note.
    pub name: String,
    /// Its event.
    pub event: EventId,
}

/// Sorts of marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MarkKind {
    /// Time started; the name is the step.
    Began,
    /// Time ended; the name is why.
    Finished,
    /// A nudge was given.
    Nudge,
    /// The animal's state.
    Mood,
    /// The cue was given.
    Cue,
    /// A hold began.
    HoldStart,
    /// A tag of the plan's own.
    Own,
    /// Somebody else trains from here on; the name is the person's.
    TookOver,
    /// What is worked on from here on, in a sitting of several sessions; the name is the behaviour's or the animal's.
    WorksOn,
    /// A command.
    Command,
    /// The step worked on changed; the name is its number.
    Step,
    /// The last rep was changed by voice.
    Changed,
    /// Something that may have been a tag.
    Doubt,
    /// No sound for a while.
    Gap,
    /// A problem of Hushtally's own; the name is what.
    Trouble,
    /// A note.
    Note,
}

impl MarkKind {
    /// Every kind.
    pub const ALL: [MarkKind; 16] = [
        MarkKind::Began,
        MarkKind::Finished,
        MarkKind::Nudge,
        MarkKind::Mood,
        MarkKind::Cue,
        MarkKind::HoldStart,
        MarkKind::Own,
        MarkKind::TookOver,
        MarkKind::WorksOn,
        MarkKind::Command,
        MarkKind::Step,
        MarkKind::Changed,
        MarkKind::Doubt,
        MarkKind::Gap,
        MarkKind::Trouble,
        MarkKind::Note,
    ];

    /// The name in the database and in exports.
    pub fn name(self) -> &'static str {
        match self {
            MarkKind::Began => "began",
            MarkKind::Finished => "finished",
            MarkKind::Nudge => "nudge",
            MarkKind::Mood => "mood",
            MarkKind::Cue => "cue",
            MarkKind::HoldStart => "hold_start",
            MarkKind::Own => "own",
            MarkKind::TookOver => "took_over",
            MarkKind::WorksOn => "works_on",
            MarkKind::Command => "command",
            MarkKind::Step => "step",
            MarkKind::Changed => "changed",
            MarkKind::Doubt => "doubt",
            MarkKind::Gap => "gap",
            MarkKind::Trouble => "trouble",
            MarkKind::Note => "note",
        }
    }
}
