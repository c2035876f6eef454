//! What was learnt from the person who speaks, beside what was recognised.

use super::{Judge, Judged, Readings, Rules};
use crate::at::At;
use crate::audio::RATE;
use crate::hear::HeardTag;
use crate::hear::personal::{Match, Outcome, Recognised, combine};
use crate::hear::recogniser::{Alternative, Placed, spoken, texts};
use crate::hear::segmenter::Segment;
use crate::hear::verdict::{Candidate, Verdict};
use crate::interpret::{Grammar, Said};

/// Whether the plan reads a phrase as one tag or command, so that it can be learnt.
pub(in crate::hear::ears) fn is_one_thing(grammar: &Grammar, phrase: &str) -> bool {
    let words: Vec<&str> = phrase.split(' ').collect();
    grammar.parse(&words).is_some_and(|readings| readings.len() == 1)
}

impl Judge {
    /// Weighs what was learnt against what was recognised; none when it stays as recognised.
    pub(super) fn weigh(
        &mut self,
        segment: &Segment,
        read: &Readings,
        learnt: Match,
        verdict: &Verdict,
        rules: &Rules,
    ) -> Option<Judged> {
        let called = called(read, &rules.grammar);
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
                words = spoken(&read.open).map(Alternative::text).unwrap_or_default();
                Recognised::Nothing(&words)
            }
        };
        let same = |a: &str, b: &str| mean_the_same(&rules.grammar, a, b);
        let mistaken = |words: &str, phrase: &str| rules.learnt.is_mistaken_for(phrase, words);
        match combine(recognised, Some(learnt), same, mistaken) {
            Outcome::AsRecognised => None,
            Outcome::Learnt(phrase) => self.learnt(segment, &phrase, &rules.grammar),
            Outcome::Doubt { words, other } => {
                let words = spread_over(segment, &words);
                Some(Judged::Uncertain { words, other, talk: None })
            }
        }
    }

    fn learnt(&mut self, segment: &Segment, phrase: &str, grammar: &Grammar) -> Option<Judged> {
        let words = spread_over(segment, phrase);
        let readings = grammar.parse(&texts(&words))?;
        self.after_talk = false;
        let first = readings.first().map(|reading| &reading.said);
        let Some(said) = first.filter(|said| said.is_called()) else {
            return Some(Judged::Tags(Candidate { words, readings }));
        };
        Some(Judged::Command(HeardTag {
            at: segment.onset,
            end: At::of_sample(segment.to, RATE),
            said: said.clone(),
            words: phrase.to_owned(),
            decided: segment.decided(),
        }))
    }
}

fn mean_the_same(grammar: &Grammar, a: &str, b: &str) -> bool {
    let said = |text: &str| -> Option<Vec<Said>> {
        let words: Vec<&str> = text.split(' ').collect();
        Some(grammar.parse(&words)?.into_iter().map(|reading| reading.said).collect())
    };
    a == b || said(a).is_some_and(|said_a| Some(said_a) == said(b))
}

/// What was recognised, if both readings begin with the attention word.
fn called(read: &Readings, grammar: &Grammar) -> Option<String> {
    let calls = |alternatives: &[Alternative]| {
        let best = spoken(alternatives)?;
        (grammar.called(&best.texts()) > 0).then(|| best.text())
    };
    calls(&read.open).and(calls(&read.tags))
}

/// The words of a phrase, spread over the segment: what was learnt is one whole.
fn spread_over(segment: &Segment, phrase: &str) -> Vec<Placed> {
    let seconds = |sample: u64| sample.saturating_sub(segment.read_from) as f32 / RATE.get() as f32;
    let (start, end) = (seconds(segment.from), seconds(segment.to));
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
