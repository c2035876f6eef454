//! A doubt as it is asked about: when it was, what it may have been, and what came before it.

use serde::Serialize;

use crate::interpret::{Details, Grammar, NotCounted, OtherReading, Said};
use crate::session::Outcome;

/// What a reading comes to when it is taken for right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Counts {
    /// A rep with these details.
    Rep(Details),
    /// A miss with these details.
    Miss(Details),
    /// A tag that counts no rep: a state, a detail, a command…
    NoRep,
    /// Several tags, of which only the first has a time.
    Several,
    /// Ordinary words.
    NoTag,
}

/// One way to read what was heard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reading {
    /// Its words.
    pub words: String,
    /// What it comes to.
    pub counts: Counts,
}

impl Reading {
    /// These words by the plan's grammar.
    pub fn of(words: &str, grammar: &Grammar) -> Self {
        let parts: Vec<&str> = words.split_whitespace().collect();
        let tags = grammar.parse(&parts).unwrap_or_default();
        let counts = match tags.as_slice() {
            [] => Counts::NoTag,
            [tag] => match tag.said {
                Said::Rep(details) => Counts::Rep(details),
                Said::Miss(details) => Counts::Miss(details),
                _ => Counts::NoRep,
            },
            _ => Counts::Several,
        };
        Reading { words: words.to_owned(), counts }
    }
}

/// The rep before a doubt, to remember the moment by.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Before {
    /// Its number, from 1.
    pub rep: usize,
    /// How many seconds before the doubt.
    pub seconds: f64,
    /// How it went.
    pub outcome: Outcome,
}

/// Something that may have been a tag.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubt {
    /// Seconds since the session began, pauses left out.
    pub at_s: f64,
    /// The likelier reading.
    pub first: Reading,
    /// The other one, when there is one.
    pub second: Option<Reading>,
    /// Why it did not count, when it was heard well enough.
    pub because: Option<NotCounted>,
    /// The rep before it.
    pub before: Option<Before>,
}

impl Doubt {
    /// From what the log has of it.
    pub fn new(at_s: f64, words: &str, other: &OtherReading, grammar: &Grammar) -> Self {
        let (because, second) = match other {
            OtherReading::NotCounted(reason) => (Some(*reason), None),
            OtherReading::Read(text) if !text.trim().is_empty() && text != words => {
                (None, Some(Reading::of(text, grammar)))
            }
            OtherReading::Nothing | OtherReading::Read(_) => (None, None),
        };
        Doubt { at_s, first: Reading::of(words, grammar), second, because, before: None }
    }
}
