//! One repetition: a try by the animal, rewarded or missed.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::at::At;
use crate::chain::LinkScores;
use crate::plan::{RewardValue, Role, Side, Words};

/// One try by the animal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rep {
    /// The input that it came from, by its number in the session, counted from 1. None for a miss by itself, and not
    /// known in rows of many sessions.
    #[serde(skip)]
    pub input: Option<u32>,
    /// Onset of the marker or of the word that reported the miss.
    pub at: At,
    /// The same in time since the session began, pauses left out.
    pub active: Duration,
    /// Step that was being worked on, counted from 1.
    pub working: u8,
    /// Step reached, counted from 1; 0 for a try of a chain in which not even the first link to be trained went by itself.
    pub step: u8,
    /// Whether it was rewarded.
    pub outcome: Outcome,
    /// Whether its value was named, and not left to the plan.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub value_named: bool,
    /// Side of the body, when said.
    pub side: Option<Side>,
    /// From the cue to the marker, when a cue was given.
    pub latency: Option<Duration>,
    /// From the start word to the marker, when a hold was begun.
    pub duration: Option<Duration>,
    /// How each link went; none where the behaviour is not a chain.
    #[serde(default, skip_serializing_if = "LinkScores::is_empty")]
    pub links: LinkScores,
}

/// Whether a rep was rewarded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Marked, and paid this.
    Rewarded(RewardValue),
    /// Not marked.
    Missed(MissedBecause),
}

/// How a miss came to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MissedBecause {
    /// The trainer said so.
    Said,
    /// No marker within the limited hold after the cue.
    HoldRanOut,
}

impl Rep {
    /// What it was paid; `None` for a miss.
    pub fn paid(&self) -> Option<RewardValue> {
        match self.outcome {
            Outcome::Rewarded(value) => Some(value),
            Outcome::Missed(_) => None,
        }
    }

    /// Its value as a person reads it: a named one by the plan's own word, `bonus (high)`; `None` for a miss.
    pub fn paid_as(&self, words: &Words) -> Option<String> {
        let value = self.paid()?;
        let word = words.of(&Role::Value(value)).first();
        Some(match word.filter(|word| self.value_named && *word != value.name()) {
            Some(word) => format!("{word} ({})", value.name()),
            None => value.name().to_owned(),
        })
    }

    /// The same, whether its value was named or not, and whatever input it came from.
    pub fn however_named(&self) -> Rep {
        Rep { input: None, value_named: false, ..self.clone() }
    }

    /// Whether it was rewarded.
    pub fn rewarded(&self) -> bool {
        self.paid().is_some()
    }

    /// Rewarded at the step being worked on, or beyond it.
    pub fn met_criterion(&self) -> bool {
        self.rewarded() && self.step >= self.working
    }
}
