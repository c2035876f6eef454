//! What was heard, as values: tags, doubts and notes with their moments. Pure; `hear` makes them of sound.

use std::time::Duration;

use crate::at::At;
use crate::interpret::{OtherReading, Said};

/// What came out of a segment of speech.
#[derive(Debug, Clone, PartialEq)]
pub enum Heard {
    /// Tags, in the order of their onsets.
    Tags(Vec<HeardTag>),
    /// It may be a tag: two stages of hearing disagree.
    Doubt(Doubt),
    /// All tags since the onset of this one were the beginning of talk: they never were, and are kept as this doubt.
    Withdrawn(Doubt),
    /// A note in free words; empty when nothing was said.
    Note {
        /// When the command for it was said.
        at: At,
        /// When it was over.
        to: At,
        /// Its words.
        text: String,
    },
    /// Sound that could not be read, since the recogniser ended over it.
    Lost {
        /// When it began.
        from: At,
        /// When hearing went on.
        to: At,
    },
    /// Speech or noise that is not a tag.
    Other {
        /// When it began.
        from: At,
        /// When it ended.
        to: At,
    },
}

impl Heard {
    /// The same, `offset` later.
    pub fn later(self, offset: Duration) -> Heard {
        match self {
            Heard::Tags(tags) => Heard::Tags(
                tags.into_iter()
                    .map(|tag| HeardTag {
                        at: tag.at + offset,
                        end: tag.end + offset,
                        decided: tag.decided + offset,
                        ..tag
                    })
                    .collect(),
            ),
            Heard::Doubt(doubt) => Heard::Doubt(doubt.later(offset)),
            Heard::Withdrawn(doubt) => Heard::Withdrawn(doubt.later(offset)),
            Heard::Note { at, to, text } => Heard::Note { at: at + offset, to: to + offset, text },
            Heard::Lost { from, to } => Heard::Lost { from: from + offset, to: to + offset },
            Heard::Other { from, to } => Heard::Other { from: from + offset, to: to + offset },
        }
    }
}

/// A tag as heard.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardTag {
    /// Onset of its first word.
    pub at: At,
    /// End of its last word.
    pub end: At,
    /// What it means.
    pub said: Said,
    /// Its words.
    pub words: String,
    /// How much sound had come in when it was decided.
    pub decided: At,
}

/// Something that may be a tag.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// Onset of its first word.
    pub at: At,
    /// End of its last word.
    pub end: At,
    /// The likelier reading.
    pub words: String,
    /// What stands beside it.
    pub other: OtherReading,
    /// How much sound had come in when it was decided.
    pub decided: At,
}

/// What a doubt was, where the attention word was said, and after it no command.
pub const NO_COMMAND: &str = "no command";

impl Doubt {
    /// Whether the attention word was said, and after it no command.
    pub fn is_no_command(&self) -> bool {
        matches!(&self.other, OtherReading::Read(other) if other == NO_COMMAND)
    }

    fn later(self, offset: Duration) -> Doubt {
        Doubt {
            at: self.at + offset,
            end: self.end + offset,
            decided: self.decided + offset,
            ..self
        }
    }
}
