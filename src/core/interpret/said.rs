//! What an utterance holds, and what it meant.

use serde::{Deserialize, Serialize};

use super::LinkMarks;
use crate::at::At;
use crate::plan::{Command, Mood, RewardValue, Side};

/// One word as heard, with its place in the sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Spelling in the recogniser's lexicon.
    pub text: String,
    /// When it begins.
    pub onset: At,
    /// When it ends.
    pub end: At,
}

/// A segment of speech between two silences.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Utterance {
    /// Its words in order; empty when nothing was recognised.
    pub words: Vec<Word>,
    /// Set when two stages of hearing disagree: what the other one read.
    pub doubt: Option<String>,
}

impl Utterance {
    /// The words joined by spaces.
    pub fn text(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|word| word.text.as_str()).collect();
        words.join(" ")
    }
}

/// What may follow a marker or the word for a miss, in any order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Details {
    /// Step reached, counted from 1.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub step: Option<u8>,
    /// Which side.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub side: Option<Side>,
    /// What it was paid.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub value: Option<RewardValue>,
    /// Of a chain: the links that needed help or broke.
    #[serde(skip_serializing_if = "LinkMarks::is_empty", default)]
    pub links: LinkMarks,
}

impl Details {
    /// Nothing said, where it has to be a constant.
    #[cfg(test)]
    pub(crate) const NONE: Details =
        Details { step: None, side: None, value: None, links: LinkMarks::NONE };

    /// Whether nothing was said.
    pub fn is_empty(&self) -> bool {
        *self == Details::default()
    }

    /// What of these a miss can have.
    pub fn of_a_miss(self) -> Details {
        Details { value: None, ..self }
    }

    /// What these have that `told` had not.
    pub fn beyond(self, told: Details) -> Details {
        Details {
            step: self.step.filter(|_| told.step.is_none()),
            side: self.side.filter(|_| told.side.is_none()),
            value: self.value.filter(|_| told.value.is_none()),
            links: if told.links == self.links { LinkMarks::default() } else { self.links },
        }
    }

    /// These details, with those of `later` in place of the ones it names.
    pub fn changed_by(self, later: Details) -> Details {
        Details {
            step: later.step.or(self.step),
            side: later.side.or(self.side),
            value: later.value.or(self.value),
            // Help alone is of the link named last; other links stand in the place of those named before.
            links: match later.links.named().next() {
                None => self.links.with(later.links),
                Some(_) => later.links,
            },
        }
    }

    /// These details and more of the same try: links that are named later come to those named before.
    pub fn with(self, more: Details) -> Details {
        Details { links: self.links.with(more.links), ..self.changed_by(more) }
    }
}

impl Said {
    /// The same said of a chain of so many links, where a number names a link, however it came: typed, pressed or spoken.
    #[must_use]
    pub fn of_a_chain(self, links: u8) -> Self {
        let named = |details: Details| {
            let number = details.step.map_or(LinkMarks::NONE, |link| LinkMarks::link(link, None));
            Details { step: None, links: number.with(details.links).up_to(links), ..details }
        };
        match self {
            Said::Rep(details) => Said::Rep(named(details)),
            Said::Detail(details) => Said::Detail(named(details)),
            Said::Miss(details) => Said::Miss(named(details)),
            Said::Change(details) => Said::Change(named(details)),
            other => other,
        }
    }

    /// Whether it is said after the attention word.
    pub fn is_called(&self) -> bool {
        matches!(self, Said::Command { .. } | Said::TakesOver { .. } | Said::Behaviour { .. })
    }

    /// Whether it tells of the animal, so that a session could begin with it: no command, no detail, no correction.
    pub fn may_begin(&self) -> bool {
        matches!(
            self,
            Said::Rep(_)
                | Said::Miss(_)
                | Said::State { .. }
                | Said::Cue
                | Said::HoldStart
                | Said::Own { .. }
        )
    }
}

/// One thing said to the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Said {
    /// A marker, with what followed it.
    Rep(Details),
    /// Details said alone, after the utterance of their try.
    Detail(Details),
    /// A try that did not meet the criterion, with what was said of it: the step tried and the side. A miss is paid
    /// nothing, so its value is never named.
    Miss(Details),
    /// How the animal is.
    State {
        /// The state.
        mood: Mood,
    },
    /// The cue was given.
    Cue,
    /// A hold began.
    HoldStart,
    /// Take back the last.
    TakeBack,
    /// The take-back at that moment was none, so what it took stands again. Nobody says this: it follows when what
    /// sounded like a take-back went on as talk.
    PutBack {
        /// When it was said.
        said_at: At,
    },
    /// Change the last to this.
    Change(Details),
    /// A command, after the attention word.
    Command {
        /// Which.
        command: Command,
    },
    /// This person trains from here on.
    TakesOver {
        /// The name, as the record knows it.
        person: String,
    },
    /// This behaviour is worked on from here on, and what was worked on rests.
    Behaviour {
        /// Its name in the plan.
        name: String,
    },
    /// This animal works from here on, and the other rests.
    Animal {
        /// Its name in the plan.
        name: String,
    },
    /// A tag of the plan's own.
    Own {
        /// Its name in the plan.
        name: String,
    },
}
