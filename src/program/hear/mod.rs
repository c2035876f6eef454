//! Sound to tags with onsets. Never decides what a tag does.
//!
//! Four stages in a row (`ears`). The segmenter cuts speech out of the sound by its level. The readers read each segment:
//! with the plan's words alone, and with the plan's words among thousands of ordinary ones; what stands little over the
//! room's noise is read again with less of it, and what most readings agree on counts. The judge takes for tags only a
//! segment that is wholly made of tags by both; where they disagree a little it is an uncertain tag, where they disagree
//! much it is talk. The follow-up withdraws what turns out to be the beginning of talk.

mod check;
mod clicks;
mod denoise;
mod dictation;
mod ears;
#[cfg(test)]
mod fixture;
mod frequent;
mod gate;
#[cfg(test)]
mod hiss;
mod level;
mod lines;
mod model;
mod onset;
pub mod personal;
mod phones;
mod process;
mod reader;
mod recent;
mod recogniser;
mod segmenter;
mod verdict;
mod whole;
mod wiener;
pub mod wire;

pub use crate::heard::{Doubt, Heard, HeardTag, NO_COMMAND};
pub use check::{Finding, Trouble, check, instead};
pub use ears::{Ears, Trace};
pub use frequent::Frequent;
pub use model::{ModelError, SpeechModel};

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
    /// It ended over one segment of sound after the other.
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
