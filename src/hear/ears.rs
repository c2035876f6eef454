//! Gate, recogniser and grammar together.

use std::time::Duration;

use super::gate::{Gate, Stretch};
use super::recogniser::Recogniser;
use super::{HearError, Heard, HeardTag, SpeechModel};
use crate::at::At;
use crate::audio::{Frame, RATE};
use crate::interpret::Grammar;
use crate::plan::Words;

/// A stretch that opens now may reach so far back, so nothing later than this is settled yet.
const LOOK_BACK: Duration = Duration::from_millis(400);

/// Listens to 16 kHz frames for the words of a plan.
pub struct Ears {
    model: SpeechModel,
    grammar: Grammar,
    gate: Gate,
    recogniser: Recogniser,
    heard_to: At,
}

impl Ears {
    /// Ears for these words.
    ///
    /// # Errors
    /// [`HearError`] when a word is not in the model's lexicon, or the recogniser does not start.
    pub fn new(mut model: SpeechModel, words: &Words) -> Result<Self, HearError> {
        let grammar = Grammar::new(words);
        let unknown = model.unknown(&grammar.vocabulary());
        if !unknown.is_empty() {
            return Err(HearError::UnknownWords(unknown));
        }
        let recogniser = Recogniser::new(&model, &grammar.phrases())?;
        Ok(Ears { model, grammar, gate: Gate::new(), recogniser, heard_to: At::ZERO })
    }

    /// Takes a frame; gives what was decided with it.
    pub fn hear(&mut self, frame: &Frame) -> Vec<Heard> {
        self.heard_to = frame.end();
        self.gate.hear(frame).map(|stretch| self.read(&stretch)).into_iter().collect()
    }

    /// Up to here everything is decided: no tag with an earlier onset can still come.
    pub fn settled(&self) -> At {
        let open = self.gate.open_since().map(|sample| At::of_sample(sample, RATE));
        open.unwrap_or_else(|| self.heard_to.back(LOOK_BACK)).min(self.heard_to)
    }

    /// The sound has ended: decides what is left.
    pub fn finish(&mut self) -> Vec<Heard> {
        self.gate.finish().map(|stretch| self.read(&stretch)).into_iter().collect()
    }

    fn read(&mut self, stretch: &Stretch) -> Heard {
        let from = At::of_sample(stretch.first_sample, RATE);
        let other = Heard::Other { from, to: At::of_sample(stretch.end_sample(), RATE) };
        if stretch.talk {
            return other;
        }
        let words = self.recogniser.read(&self.model, &stretch.samples, from);
        let texts: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
        let Some(readings) = self.grammar.parse(&texts) else { return other };
        let tags = readings.into_iter().map(|reading| HeardTag {
            at: words[reading.first].onset,
            end: words[reading.end - 1].end,
            words: texts[reading.first..reading.end].join(" "),
            said: reading.said,
            decided: self.heard_to,
        });
        Heard::Tags(tags.collect())
    }
}
