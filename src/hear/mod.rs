//! Sound to tags with onsets. Never decides what a tag does.
//!
//! A gate cuts speech out of the sound by its level. One recogniser reads it with the plan's words alone,
//! another with the plan's words among thousands of ordinary ones. Only a stretch that is wholly made of
//! tags by both counts; where they disagree a little it is a doubt, where they disagree much it is talk. What
//! stands little over the room's noise is read again with less of it, and what most readings agree on counts. What
//! turns out to be the beginning of talk is withdrawn.

mod check;
mod clicks;
mod denoise;
mod dictation;
mod ears;
mod frequent;
mod gate;
#[cfg(test)]
mod hiss;
mod judge;
mod level;
mod lines;
mod model;
mod onset;
mod past;
pub mod personal;
mod phones;
mod process;
mod recogniser;
mod stretch;
mod whole;
mod wiener;
pub mod wire;

use std::time::Duration;

use crate::at::At;
use crate::interpret::Said;

pub use check::{Finding, Trouble, check, instead};
pub use ears::{Ears, Look};
pub use frequent::Frequent;
pub use model::{ModelError, SpeechModel};

/// What came out of a stretch of speech.
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
    /// Speech or noise that is no tag.
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
    /// What the other stage read.
    pub other: String,
    /// How much sound had come in when it was decided.
    pub decided: At,
}

impl Doubt {
    fn later(self, offset: Duration) -> Doubt {
        Doubt {
            at: self.at + offset,
            end: self.end + offset,
            decided: self.decided + offset,
            ..self
        }
    }
}

/// Why hearing cannot start.
#[derive(Debug, thiserror::Error)]
pub enum HearError {
    /// No usable model.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// Words that the model's lexicon lacks.
    #[error("{}", unknown_words(.0))]
    UnknownWords(Vec<UnknownWord>),
    /// The recogniser could not be made.
    #[error(
        "the recogniser does not start with these words; `hushtally words check PLAN` tells more"
    )]
    Recogniser,
    /// It ended over one stretch of sound after the other.
    #[error(
        "the recogniser ended over one sound after the other, and nothing more was heard; run models/fetch again, or name another model with --model"
    )]
    GaveUp,
}

/// A word that the model does not know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownWord {
    /// The word.
    pub word: String,
    /// Words that it does know and that are close, best first.
    pub near: Vec<String>,
}

fn unknown_words(words: &[UnknownWord]) -> String {
    let lines: Vec<String> = words
        .iter()
        .map(|unknown| match unknown.near.as_slice() {
            [] => format!(
                "the speech model does not know the word \"{}\"; choose another",
                unknown.word
            ),
            near => format!(
                "the speech model does not know the word \"{}\"; it knows {}",
                unknown.word,
                near.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
            ),
        })
        .collect();
    lines.join("\n")
}
