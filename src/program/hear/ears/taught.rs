//! Ears with what was learnt from the person who speaks.

use super::{Alternative, Candidate, Ears, Placed, Stretch, Verdict};
use crate::hear::personal::{Features, Match, Outcome, Recognised, combine, of_stretch};
use crate::hear::recogniser::{spoken, texts};
use crate::hear::{Heard, HeardTag};
use crate::interpret::{Grammar, Said};

/// Whether the plan reads a phrase as one tag or command, so that it can be learnt.
pub(super) fn is_one_thing(grammar: &Grammar, phrase: &str) -> bool {
    let words: Vec<&str> = phrase.split(' ').collect();
    grammar.parse(&words).is_some_and(|readings| readings.len() == 1)
}

impl Ears {
    /// What the stretch is by what was learnt.
    pub(super) fn by_learnt(&self, began: usize, end: usize) -> Option<Match> {
        if self.learnt.is_empty() {
            return None;
        }
        let (from, to) = (self.sample_of(began), self.sample_of(end));
        let (samples, room) = of_stretch(&self.past, from, to);
        self.learnt.read(&Features::of(&samples, &room))
    }

    /// Weighs what was learnt against what was recognised; `None` when it stays as recognised.
    pub(super) fn weigh(
        &mut self,
        stretch: &Stretch,
        learnt: Option<Match>,
        verdict: &Verdict,
    ) -> Option<Vec<Heard>> {
        let learnt = learnt?;
        let called = self.is_called(stretch);
        let words;
        let recognised = match verdict {
            _ if called.is_some() => {
                words = called.unwrap_or_default();
                Recognised::Sure(&words)
            }
            Verdict::Tags(candidate) => {
                words = texts(&candidate.words).join(" ");
                Recognised::Sure(&words)
            }
            Verdict::Doubt(candidate, _) => {
                words = texts(&candidate.words).join(" ");
                Recognised::Unsure(&words)
            }
            Verdict::Other => {
                words = spoken(stretch.open).map(Alternative::text).unwrap_or_default();
                Recognised::Nothing(&words)
            }
        };
        let mistaken = |words: &str, phrase: &str| self.learnt.is_mistaken_for(phrase, words);
        match combine(recognised, Some(learnt), |a, b| self.mean_the_same(a, b), mistaken) {
            Outcome::AsRecognised => None,
            Outcome::Learnt(phrase) => self.give_learnt(stretch, &phrase),
            Outcome::Doubt { words, other } => {
                let placed = self.placed(stretch, &words);
                Some(vec![Heard::Doubt(self.doubt(stretch.began, stretch.first, &placed, other))])
            }
        }
    }

    fn mean_the_same(&self, a: &str, b: &str) -> bool {
        let said = |text: &str| -> Option<Vec<Said>> {
            let words: Vec<&str> = text.split(' ').collect();
            Some(self.grammar.parse(&words)?.into_iter().map(|reading| reading.said).collect())
        };
        a == b || said(a).is_some_and(|said_a| Some(said_a) == said(b))
    }

    /// What the recogniser read, if both readings begin with the attention word.
    fn is_called(&self, stretch: &Stretch) -> Option<String> {
        let calls = |alternatives: &[Alternative]| {
            let best = spoken(alternatives)?;
            (self.grammar.called(&best.texts()) > 0).then(|| best.text())
        };
        calls(stretch.open).and(calls(stretch.tags))
    }

    fn give_learnt(&mut self, stretch: &Stretch, phrase: &str) -> Option<Vec<Heard>> {
        let words = self.placed(stretch, phrase);
        let texts = texts(&words);
        let readings = self.grammar.parse(&texts)?;
        self.last_was_talk = false;
        if let Some(Said::Command { command }) = readings.first().map(|reading| &reading.said) {
            let at = self.begin_of(stretch.began);
            let end = self.at_step(stretch.end);
            let tag = HeardTag {
                at,
                end,
                said: Said::Command { command: *command },
                words: phrase.to_owned(),
                decided: self.now(),
            };
            return Some(self.give_command(stretch.end, tag));
        }
        let candidate = Candidate { words, readings };
        Some(self.give(stretch.began, stretch.end, stretch.first, &candidate))
    }

    /// The words of a phrase, spread over the stretch: what was learnt is one whole.
    fn placed(&self, stretch: &Stretch, phrase: &str) -> Vec<Placed> {
        let seconds = |step: usize| {
            self.sample_of(step).saturating_sub(stretch.first) as f32 / super::RATE.get() as f32
        };
        let (start, end) = (seconds(stretch.began), seconds(stretch.end));
        let words: Vec<&str> = phrase.split(' ').collect();
        let one = (end - start) / words.len() as f32;
        words
            .iter()
            .enumerate()
            .map(|(i, word)| Placed {
                text: (*word).to_owned(),
                start: start + one * i as f32,
                end: start + one * (i + 1) as f32,
            })
            .collect()
    }
}
