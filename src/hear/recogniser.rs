//! One recogniser with one grammar, used a stretch of speech at a time.

use std::panic::{AssertUnwindSafe, catch_unwind};

use super::{HearError, SpeechModel};
use crate::audio::RATE;

/// One way to read a stretch.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Alternative {
    /// Logarithmic score; only differences within one list mean something.
    pub(super) score: f32,
    pub(super) words: Vec<Placed>,
}

/// A word with its place in the sound that was fed, in seconds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    pub(super) text: String,
    pub(super) start: f32,
    pub(super) end: f32,
}

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
    inner: vosk::Recognizer,
    /// `None`: every word that the model knows.
    lines: Option<Vec<String>>,
    alternatives: u16,
    fed: usize,
    /// Samples fed to this recogniser before the present stretch: its clock does not start anew.
    before: usize,
}

impl Recogniser {
    /// A recogniser of `lines` that tells the best `alternatives`.
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when it does not start.
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
        let inner = start(model, lines.as_deref(), alternatives)?;
        Ok(Recogniser { inner, lines, alternatives, fed: 0, before: 0 })
    }

    /// Samples of the present stretch that were fed.
    pub(super) fn fed(&self) -> usize {
        self.fed
    }

    /// Takes more of the present stretch.
    pub(super) fn feed(&mut self, samples: &[i16]) {
        self.fed += samples.len();
        // An end that the recogniser thinks it hears means nothing: the gate decides.
        let _state = self.inner.accept_waveform(samples);
    }

    /// Ends the stretch: its readings, best first; none when nothing was fed or it failed.
    pub(super) fn finish(&mut self, model: &SpeechModel) -> Vec<Alternative> {
        if self.fed == 0 {
            return Vec::new();
        }
        let offset = self.before as f32 / RATE.get() as f32;
        self.before += self.fed;
        self.fed = 0;
        let inner = &mut self.inner;
        // The crate panics on a result that it does not expect: then start afresh and hear nothing.
        let read = catch_unwind(AssertUnwindSafe(|| {
            let result = inner.final_result().multiple()?;
            let alternatives = result.alternatives.into_iter().map(|alternative| Alternative {
                score: alternative.confidence,
                words: alternative
                    .result
                    .iter()
                    .map(|word| Placed {
                        text: word.word.to_owned(),
                        start: (word.start - offset).max(0.0),
                        end: (word.end - offset).max(0.0),
                    })
                    .collect(),
            });
            Some(alternatives.collect())
        }));
        read.unwrap_or_else(|_| {
            if let Ok(fresh) = start(model, self.lines.as_deref(), self.alternatives) {
                self.inner = fresh;
                self.before = 0;
            }
            None
        })
        .unwrap_or_default()
    }

    /// Forgets the present stretch.
    pub(super) fn drop_stretch(&mut self, model: &SpeechModel) {
        self.finish(model);
    }
}

fn start(
    model: &SpeechModel,
    lines: Option<&[String]>,
    alternatives: u16,
) -> Result<vosk::Recognizer, HearError> {
    let hz = RATE.get() as f32;
    let mut inner = match lines {
        Some(lines) => vosk::Recognizer::new_with_grammar(model.inner(), hz, lines),
        None => vosk::Recognizer::new(model.inner(), hz),
    }
    .ok_or(HearError::Recogniser)?;
    inner.set_words(true);
    inner.set_max_alternatives(alternatives);
    Ok(inner)
}
