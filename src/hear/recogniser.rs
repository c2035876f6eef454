//! The recogniser of one grammar, used a stretch of speech at a time.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;

use super::{HearError, SpeechModel};
use crate::at::At;
use crate::audio::RATE;
use crate::interpret::Word;

/// Reads stretches of speech with a fixed set of phrases.
pub(super) struct Recogniser {
    inner: vosk::Recognizer,
    grammar: Vec<String>,
    /// Seconds of sound fed before the present stretch: the recogniser's clock never starts anew.
    before: f32,
}

impl Recogniser {
    /// A recogniser of `phrases`, and of anything else as `[unk]`.
    pub(super) fn new(model: &SpeechModel, phrases: &[String]) -> Result<Self, HearError> {
        // The crate puts the phrases between quotes as they are, so nothing may break out of them.
        let harmless = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '\'' | '-');
        let mut grammar: Vec<String> =
            phrases.iter().filter(|phrase| phrase.chars().all(harmless)).cloned().collect();
        grammar.push("[unk]".to_owned());
        let inner = start(model, &grammar)?;
        Ok(Recogniser { inner, grammar, before: 0.0 })
    }

    /// The words in `samples`, whose first one is at `from`; empty when nothing was recognised.
    pub(super) fn read(&mut self, model: &SpeechModel, samples: &[i16], from: At) -> Vec<Word> {
        let before = self.before;
        self.before += samples.len() as f32 / RATE.get() as f32;
        let inner = &mut self.inner;
        // The crate panics on a result that it does not expect: then start afresh and hear nothing.
        let words = catch_unwind(AssertUnwindSafe(|| {
            inner.accept_waveform(samples).ok()?;
            let result = inner.final_result().single()?;
            let place = |seconds: f32| from + Duration::from_secs_f32((seconds - before).max(0.0));
            Some(
                result
                    .result
                    .iter()
                    .map(|word| Word {
                        text: word.word.to_owned(),
                        onset: place(word.start),
                        end: place(word.end),
                    })
                    .collect(),
            )
        }));
        match words {
            Ok(words) => words.unwrap_or_default(),
            Err(_) => {
                if let Ok(fresh) = start(model, &self.grammar) {
                    self.inner = fresh;
                    self.before = 0.0;
                }
                Vec::new()
            }
        }
    }
}

fn start(model: &SpeechModel, grammar: &[String]) -> Result<vosk::Recognizer, HearError> {
    let hz = RATE.get() as f32;
    let mut inner = vosk::Recognizer::new_with_grammar(model.inner(), hz, grammar)
        .ok_or(HearError::Recogniser)?;
    inner.set_words(true);
    Ok(inner)
}
