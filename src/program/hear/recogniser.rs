//! One recogniser with one grammar, used a segment of speech at a time.

use std::sync::Arc;

use super::HearError;
use super::process::Process;
pub(super) use super::wire::{Alternative, Placed};

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

/// Reads segments of speech, one after the other: a recogniser, or in tests whatever gives readings.
pub(super) trait Recognise: Send + Sync {
    /// Takes more of the present segment.
    fn feed(&self, samples: &[i16]);

    /// Ends the present segment: its readings, best first; `None` when the recogniser ended over it.
    fn finish(&self) -> Option<Vec<Alternative>>;
}

/// One recogniser of the process, with a fixed list of lines, or free.
pub(super) struct Recogniser {
    process: Process,
    number: usize,
}

impl Recogniser {
    /// A recogniser of `lines` that returns the best `alternatives`; without lines, of every word that the model
    /// of the `process` knows.
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when it does not start; [`HearError::Model`] when the model breaks it.
    pub(super) fn new(
        process: &Process,
        lines: Option<Vec<String>>,
        alternatives: u16,
    ) -> Result<Self, HearError> {
        // The crate puts the lines between quotes as they are, so nothing may break out of them.
        let harmless = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '\'' | '-' | '[' | ']');
        let lines = lines.map(|lines| {
            lines.into_iter().filter(|line| line.chars().all(harmless)).collect::<Vec<_>>()
        });
        let process = process.clone();
        let number = process.recogniser(lines, alternatives)?.ok_or(HearError::Recogniser)?;
        Ok(Recogniser { process, number })
    }
}

impl Recognise for Recogniser {
    fn feed(&self, samples: &[i16]) {
        self.process.feed(self.number, samples);
    }

    fn finish(&self) -> Option<Vec<Alternative>> {
        self.process.finish(self.number)
    }
}

impl Drop for Recogniser {
    fn drop(&mut self) {
        self.process.stop(self.number);
    }
}

/// One segment on its way through a recogniser. Dropped before it is finished, it is given up, and the recogniser is
/// free for the next.
pub(super) struct Passage {
    recogniser: Arc<dyn Recognise>,
    fed: usize,
}

impl Passage {
    pub(super) fn through(recogniser: &Arc<dyn Recognise>) -> Self {
        Passage { recogniser: Arc::clone(recogniser), fed: 0 }
    }

    /// Samples that were fed so far.
    pub(super) fn fed(&self) -> usize {
        self.fed
    }

    /// Takes more of the segment.
    pub(super) fn feed(&mut self, samples: &[i16]) {
        self.fed += samples.len();
        self.recogniser.feed(samples);
    }

    /// Ends the segment: its readings, best first, none of nothing; `None` when the recogniser ended over it.
    pub(super) fn finish(mut self) -> Option<Vec<Alternative>> {
        self.end()
    }

    fn end(&mut self) -> Option<Vec<Alternative>> {
        match std::mem::take(&mut self.fed) {
            0 => Some(Vec::new()),
            _ => self.recogniser.finish(),
        }
    }
}

impl Drop for Passage {
    fn drop(&mut self) {
        let _given_up = self.end();
    }
}
