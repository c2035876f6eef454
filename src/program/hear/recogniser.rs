//! One recogniser with one grammar, used a stretch of speech at a time.

use super::process::Process;
pub(super) use super::wire::{Alternative, Placed};
use super::{HearError, SpeechModel};

impl Alternative {
    /// Its words' spellings.
    pub(super) fn texts(&self) -> Vec<&str> {
        texts(&self.words)
    }

    pub(super) fn text(&self) -> String {
        self.texts().join(" ")
    }
}

/// The spellings of these words.
pub(super) fn texts(words: &[Placed]) -> Vec<&str> {
    words.iter().map(|word| word.text.as_str()).collect()
}

/// The best reading that is not silence.
pub(super) fn spoken(alternatives: &[Alternative]) -> Option<&Alternative> {
    alternatives.iter().find(|alternative| !alternative.words.is_empty())
}

/// Reads stretches of speech by a fixed list of lines, or freely.
pub(super) struct Recogniser {
    process: Process,
    number: usize,
    fed: usize,
}

impl Recogniser {
    /// A recogniser of `lines` that tells the best `alternatives`; without lines, of every word that the model
    /// knows.
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when it does not start; [`HearError::Model`] when the model breaks it.
    pub(super) fn new(
        model: &SpeechModel,
        lines: Option<Vec<String>>,
        alternatives: u16,
    ) -> Result<Self, HearError> {
        // The crate puts the lines between quotes as they are, so nothing may break out of them.
        let harmless = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '\'' | '-' | '[' | ']');
        let lines = lines.map(|lines| {
            lines.into_iter().filter(|line| line.chars().all(harmless)).collect::<Vec<_>>()
        });
        let process = model.process().clone();
        let number = process.recogniser(lines, alternatives)?.ok_or(HearError::Recogniser)?;
        Ok(Recogniser { process, number, fed: 0 })
    }

    /// Samples of the present stretch that were fed.
    pub(super) fn fed(&self) -> usize {
        self.fed
    }

    /// Takes more of the present stretch.
    pub(super) fn feed(&mut self, samples: &[i16]) {
        self.fed += samples.len();
        self.process.feed(self.number, samples);
    }

    /// Ends the stretch: its readings, best first; none when nothing was fed or it failed.
    pub(super) fn finish(&mut self) -> Vec<Alternative> {
        if self.fed == 0 {
            return Vec::new();
        }
        self.fed = 0;
        self.process.finish(self.number)
    }
}

impl Drop for Recogniser {
    fn drop(&mut self) {
        self.process.stop(self.number);
    }
}
