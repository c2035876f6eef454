//! What was learnt from a person, and what a sound is by it. Pure.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::features::Features;
use super::warp::distance;

// Distances are in the units of a byte of the features. Chosen on the tuning half of the speakers; the trials
// stand in tests/bench.d/RESULTS.md.

/// Examples that count: the mean of this many of the nearest.
const NEAREST: usize = 2;
/// Nothing further than this is a learnt sound, whoever it is from.
const FURTHEST: f32 = 12.5;
/// A sound lies within its own examples' spread: this many times their mean distance, and this much more.
const SPREAD: (f32, f32) = (2.0, 3.0);
/// It is nearer than this share of the distance to the nearest piece of ordinary talk.
const TALK_SHARE: f32 = 0.85;
/// Another sound must be further by this factor, or it is not sure which.
const CLEARLY: f32 = 1.02;
/// Up to this factor beyond the limits it may be the sound.
const MAYBE: f32 = 1.1;
/// Examples further from each other than this are of no use.
const UNSTEADY: f32 = 12.5;

/// Sounds learnt from one person: phrases of the plan with their examples, and a little ordinary talk.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Learnt {
    phrases: BTreeMap<String, Vec<Features>>,
    talk: Vec<Features>,
    /// What the recogniser took examples of a phrase for, where it was sure and wrong.
    #[serde(default)]
    mistaken: BTreeMap<String, BTreeSet<String>>,
}

/// What a sound is, by what was learnt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Match {
    /// This phrase.
    Sure(String),
    /// Perhaps this phrase.
    Maybe(String),
}

impl Match {
    /// The phrase.
    pub fn phrase(&self) -> &str {
        match self {
            Match::Sure(phrase) | Match::Maybe(phrase) => phrase,
        }
    }
}

impl Learnt {
    /// Most pieces of talk that are kept.
    const TALK: usize = 60;

    /// Learns a phrase from these examples, in place of what was known of it.
    pub fn learn(&mut self, phrase: String, examples: Vec<Features>) {
        let examples: Vec<Features> = examples.into_iter().filter(|e| !e.is_empty()).collect();
        if !examples.is_empty() {
            self.mistaken.remove(&phrase);
            self.phrases.insert(phrase, examples);
        }
    }

    /// Keeps that the recogniser was sure of these other words while the phrase was taught: when it says them
    /// again, that is not evidence against the phrase. To be told after the phrase was learnt.
    pub fn mistaken_for(&mut self, phrase: &str, words: String) {
        if words != phrase && self.phrases.contains_key(phrase) {
            self.mistaken.entry(phrase.to_owned()).or_default().insert(words);
        }
    }

    /// Keeps a piece of ordinary talk, to tell the phrases from it.
    pub fn add_talk(&mut self, piece: Features) {
        if !piece.is_empty() && self.talk.len() < Self::TALK {
            self.talk.push(piece);
        }
    }

    /// The phrases that were learnt, and from how many examples.
    pub fn phrases(&self) -> impl Iterator<Item = (&str, usize)> {
        self.phrases.iter().map(|(phrase, examples)| (phrase.as_str(), examples.len()))
    }

    /// How many pieces of talk there are.
    pub fn talk(&self) -> usize {
        self.talk.len()
    }

    /// Whether every frame is what this version keeps.
    pub fn is_whole(&self) -> bool {
        self.phrases.values().flatten().chain(&self.talk).all(Features::is_whole)
    }

    /// Phrases whose examples are too unlike each other to be told from anything else.
    pub fn unsteady(&self) -> Vec<&str> {
        self.phrases
            .iter()
            .filter(|(_, examples)| spread(examples).is_none_or(|spread| spread > UNSTEADY))
            .map(|(phrase, _)| phrase.as_str())
            .collect()
    }

    /// Those phrases for which `wanted` holds, ready to be compared.
    pub fn matcher(&self, wanted: impl Fn(&str) -> bool) -> Matcher {
        let models = self
            .phrases
            .iter()
            .filter(|(phrase, _)| wanted(phrase))
            .filter_map(|(phrase, examples)| {
                let limit = (SPREAD.0 * spread(examples)? + SPREAD.1).min(FURTHEST);
                Some(Model { phrase: phrase.clone(), examples: examples.clone(), limit })
            })
            .collect();
        Matcher { models, talk: self.talk.clone(), mistaken: self.mistaken.clone() }
    }
}

/// A phrase with its examples, and how far from them it may be.
#[derive(Debug, Clone)]
struct Model {
    phrase: String,
    examples: Vec<Features>,
    limit: f32,
}

/// Compares sounds with what was learnt.
#[derive(Debug, Clone)]
pub struct Matcher {
    models: Vec<Model>,
    talk: Vec<Features>,
    mistaken: BTreeMap<String, BTreeSet<String>>,
}

impl Matcher {
    /// Whether there is nothing to compare with.
    pub fn is_empty(&self) -> bool {
        self.models.is_empty()
    }

    /// Whether this phrase was learnt.
    pub fn knows(&self, phrase: &str) -> bool {
        self.models.iter().any(|model| model.phrase == phrase)
    }

    /// Whether the recogniser took examples of `phrase` for `words`.
    pub fn is_mistaken_for(&self, phrase: &str, words: &str) -> bool {
        self.mistaken.get(phrase).is_some_and(|taken| taken.contains(words))
    }

    /// What this sound is; `None` when it is none of the phrases.
    pub fn read(&self, sound: &Features) -> Option<Match> {
        let mut far: Vec<(f32, &Model)> = self
            .models
            .iter()
            .filter_map(|model| Some((near(&model.examples, None, sound)?, model)))
            .collect();
        far.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (d, model) = *far.first()?;
        let talk = self.talk.iter().filter_map(|piece| distance(piece, sound));
        let limit = model.limit.min(TALK_SHARE * talk.fold(f32::INFINITY, f32::min));
        let alone = far.get(1).is_none_or(|(second, _)| *second >= CLEARLY * d);
        let phrase = model.phrase.clone();
        match d {
            d if d <= limit && alone => Some(Match::Sure(phrase)),
            d if d <= limit * MAYBE => Some(Match::Maybe(phrase)),
            _ => None,
        }
    }
}

/// Mean distance to the nearest examples, one left out; `None` when none fits.
fn near(examples: &[Features], without: Option<usize>, sound: &Features) -> Option<f32> {
    let others = examples.iter().enumerate().filter(|(i, _)| Some(*i) != without);
    let mut far: Vec<f32> = others.filter_map(|(_, other)| distance(other, sound)).collect();
    far.sort_by(f32::total_cmp);
    far.truncate(NEAREST);
    (!far.is_empty()).then(|| far.iter().sum::<f32>() / far.len() as f32)
}

/// How far examples are from the others among them, in the mean; `None` when no two can be compared.
fn spread(examples: &[Features]) -> Option<f32> {
    let far: Vec<f32> =
        (0..examples.len()).filter_map(|i| near(examples, Some(i), &examples[i])).collect();
    (!far.is_empty()).then(|| far.iter().sum::<f32>() / far.len() as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;

    /// A tone that glides between two frequencies, with a little noise.
    fn sound(from_hz: f32, to_hz: f32, seconds: f32, seed: u32) -> Features {
        let count = (seconds * 16_000.0) as usize;
        let mut phase = 0.0f32;
        let samples: Vec<i16> = (0..count)
            .zip(hiss(seed))
            .map(|(i, noise)| {
                let hz = from_hz + (to_hz - from_hz) * i as f32 / count as f32;
                phase += std::f32::consts::TAU * hz / 16_000.0;
                (8_000.0 * phase.sin()) as i16 + (128.0 * noise) as i16
            })
            .collect();
        Features::of(&samples, &[])
    }

    fn taught() -> Learnt {
        let mut learnt = Learnt::default();
        let up = (1..=5).map(|i| sound(400.0, 900.0, 0.4 + 0.02 * i as f32, i)).collect();
        let down = (1..=5).map(|i| sound(2_500.0, 1_200.0, 0.5 - 0.02 * i as f32, i)).collect();
        learnt.learn("up".to_owned(), up);
        learnt.learn("down".to_owned(), down);
        learnt
    }

    #[test]
    fn knows_another_take_and_nothing_else() {
        let matcher = taught().matcher(|_| true);
        let sure = |phrase: &str| Some(Match::Sure(phrase.to_owned()));
        assert_eq!(matcher.read(&sound(405.0, 890.0, 0.43, 99)), sure("up"));
        assert_eq!(matcher.read(&sound(2_480.0, 1_210.0, 0.44, 98)), sure("down"));
        assert_eq!(matcher.read(&sound(3_000.0, 5_500.0, 0.43, 97)), None);
        assert_eq!(matcher.read(&sound(400.0, 900.0, 1.2, 96)), None, "much too slow");
        assert_eq!(matcher.read(&Features::of(&[], &[])), None);
    }

    #[test]
    fn what_is_nearer_to_ordinary_talk_is_none() {
        let mut learnt = taught();
        let asked = sound(415.0, 880.0, 0.43, 99);
        assert!(learnt.matcher(|_| true).read(&asked).is_some());
        learnt.add_talk(asked.clone());
        assert_eq!(learnt.matcher(|_| true).read(&asked), None);
    }

    #[test]
    fn examples_that_are_unlike_each_other_or_alone_are_told() {
        let mut learnt = taught();
        let mixed = vec![sound(300.0, 300.0, 0.4, 1), sound(4_000.0, 4_500.0, 0.4, 2)];
        learnt.learn("mixed".to_owned(), mixed);
        learnt.learn("once".to_owned(), vec![sound(700.0, 700.0, 0.4, 3)]);
        assert_eq!(learnt.unsteady(), ["mixed", "once"]);
        assert!(!learnt.matcher(|_| true).knows("once"), "one example tells nothing of its spread");
        assert!(!learnt.matcher(|phrase| phrase != "up").knows("up"));
    }

    #[test]
    fn a_mistake_of_the_recogniser_is_kept_until_the_phrase_is_learnt_again() {
        let mut learnt = taught();
        learnt.mistaken_for("up", "cup".to_owned());
        learnt.mistaken_for("up", "up".to_owned());
        learnt.mistaken_for("never taught", "cup".to_owned());
        let text = serde_json::to_string(&learnt).unwrap();
        let again: Learnt = serde_json::from_str(&text).unwrap();
        let matcher = again.matcher(|_| true);
        assert!(matcher.is_mistaken_for("up", "cup") && !matcher.is_mistaken_for("up", "up"));
        assert!(!matcher.is_mistaken_for("never taught", "cup"));
        learnt.learn("up".to_owned(), vec![sound(400.0, 900.0, 0.4, 1); 2]);
        assert!(!learnt.matcher(|_| true).is_mistaken_for("up", "cup"));
    }
}
