//! A behaviour that is a chain: its links in order (a task analysis), and how they come to be trained together. The steps
//! of such a plan follow from its links: at step *n* so many of them are trained, so that all that is decided about a step
//! is decided about a chain as well, and "the next step" is "the next link joins".
//!
//! Source: Cooper, Heron & Heward, Applied Behavior Analysis, 2nd edition 2007, chapter "Behavior chains" (task analysis,
//! forward chaining, total task presentation, backward chaining; from memory).

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use super::{Dimension, Role, Step, Words};

/// The most links that a chain may have.
pub const MOST_LINKS: usize = 20;
/// The most levels of prompting that a plan may name.
pub const MOST_PROMPTS: usize = 8;

/// Links in the order in which the animal does them.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// How they come to be trained together.
    pub training: Training,
    /// Two to [`MOST_LINKS`] of them.
    pub links: Vec<Link>,
    /// Levels of help, when the plan names them.
    pub prompts: Option<Prompts>,
}

/// One link of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// What the animal does.
    pub name: String,
    /// What it is called in the record; the name when not given.
    pub id: Option<String>,
}

impl Link {
    /// What it is called in the record: its id, or its name.
    pub fn key(&self) -> &str {
        self.id.as_deref().unwrap_or(&self.name)
    }
}

/// How the links come to be trained together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Training {
    /// The first link, then the first two, and so on.
    Forwards,
    /// The last link, then the last two, and so on.
    Backwards,
    /// All of them in every try (total task presentation).
    Whole,
}

/// Levels of help in the order in which they are used, each called by its word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prompts {
    /// Which end of the list is the most help.
    pub order: PromptOrder,
    /// Their words; level 1 is the first.
    pub levels: Vec<String>,
}

/// How levels of help follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PromptOrder {
    /// The most help first; it is faded as the link is learnt.
    MostToLeast,
    /// The least help first; more is given only where that was not enough.
    LeastToMost,
}

impl Prompts {
    /// The word of a level, counted from 1.
    pub fn name(&self, level: u8) -> Option<&str> {
        let index = usize::from(level).checked_sub(1)?;
        self.levels.get(index).map(String::as_str)
    }

    /// The level that helps one less than this one; `None` where only no help at all is less.
    pub fn less_than(&self, level: u8) -> Option<u8> {
        let less = match self.order {
            PromptOrder::MostToLeast => level.checked_add(1)?,
            PromptOrder::LeastToMost => level.checked_sub(1)?,
        };
        self.name(less).map(|_| less)
    }
}

impl Chain {
    /// How many links there are.
    pub fn len(&self) -> u8 {
        u8::try_from(self.links.len()).unwrap_or(u8::MAX)
    }

    /// Whether it has none; a checked plan's has.
    pub fn is_empty(&self) -> bool {
        self.links.is_empty()
    }

    /// The links that are trained while step `working` is worked on, by their numbers from 1.
    pub fn trained(&self, working: u8) -> RangeInclusive<u8> {
        let all = self.len();
        let working = working.clamp(1, all.max(1));
        match self.training {
            Training::Forwards => 1..=working,
            Training::Backwards => all + 1 - working..=all,
            Training::Whole => 1..=all,
        }
    }

    /// The link that joined last at step `working`, which is the one that is taught there; `None` where all are taught.
    pub fn taught(&self, working: u8) -> Option<u8> {
        let trained = self.trained(working);
        match self.training {
            Training::Forwards => Some(*trained.end()),
            Training::Backwards => Some(*trained.start()),
            Training::Whole => None,
        }
    }

    /// The link of this number, counted from 1.
    pub fn link(&self, number: u8) -> Option<&Link> {
        self.links.get(usize::from(number).checked_sub(1)?)
    }

    /// The steps that follow from the links. Each is called by the link that joins at it, the only one of a chain that is
    /// trained whole by the behaviour.
    pub(super) fn steps(&self, behaviour: &str) -> Vec<Step> {
        let step = |name: &str, id: Option<&String>| Step {
            name: name.to_owned(),
            dimension: Dimension::Form,
            goal: None,
            earns: None,
            id: id.cloned(),
            was: Vec::new(),
        };
        let of = |link: &Link| step(&link.name, link.id.as_ref());
        match self.training {
            Training::Forwards => self.links.iter().map(of).collect(),
            Training::Backwards => self.links.iter().rev().map(of).collect(),
            Training::Whole => vec![step(behaviour, None)],
        }
    }
}

impl Role {
    /// Whether it says more of a try, and is not a tag by itself.
    pub fn is_detail(&self) -> bool {
        matches!(self, Role::Step(_) | Role::Prompt(_) | Role::Value(_) | Role::Side(_))
    }
}

impl Words {
    /// Whether a number said with a try names a link of a chain, and not the step reached.
    pub fn numbers_are_links(&self) -> bool {
        self.numbers_are_links
    }

    /// Tells whether numbers name links.
    pub fn set_numbers_are_links(&mut self, links: bool) {
        self.numbers_are_links = links;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chain(training: Training) -> Chain {
        let link = |name: &str| Link { name: name.to_owned(), id: None };
        Chain { training, links: ["a", "b", "c", "d"].map(link).into(), prompts: None }
    }

    #[test]
    fn links_join_one_by_one_from_either_end_or_all_at_once() {
        let trained = |training, step| chain(training).trained(step).collect::<Vec<u8>>();
        assert_eq!(trained(Training::Forwards, 1), [1]);
        assert_eq!(trained(Training::Forwards, 3), [1, 2, 3]);
        assert_eq!(trained(Training::Backwards, 1), [4]);
        assert_eq!(trained(Training::Backwards, 3), [2, 3, 4]);
        assert_eq!(trained(Training::Whole, 1), [1, 2, 3, 4]);
        let taught = |training| chain(training).taught(3);
        assert_eq!(taught(Training::Forwards), Some(3));
        assert_eq!(taught(Training::Backwards), Some(2));
        assert_eq!(taught(Training::Whole), None);
        // Out of range it is the nearest there is.
        assert_eq!(trained(Training::Forwards, 0), [1]);
        assert_eq!(trained(Training::Backwards, 9), [1, 2, 3, 4]);
    }

    #[test]
    fn a_step_is_called_by_the_link_that_joins_at_it() {
        let names = |training| {
            let steps = chain(training).steps("the whole");
            steps.into_iter().map(|step| step.name).collect::<Vec<_>>()
        };
        assert_eq!(names(Training::Forwards), ["a", "b", "c", "d"]);
        assert_eq!(names(Training::Backwards), ["d", "c", "b", "a"]);
        assert_eq!(names(Training::Whole), ["the whole"]);
    }

    #[test]
    fn help_is_faded_towards_none() {
        let levels = || ["hand", "point", "word"].map(str::to_owned).to_vec();
        let most = Prompts { order: PromptOrder::MostToLeast, levels: levels() };
        assert_eq!([1, 2, 3].map(|level| most.less_than(level)), [Some(2), Some(3), None]);
        let least = Prompts { order: PromptOrder::LeastToMost, levels: levels() };
        assert_eq!([1, 2, 3].map(|level| least.less_than(level)), [None, Some(1), Some(2)]);
        assert_eq!(most.name(2), Some("point"));
        assert_eq!((most.name(0), most.name(4)), (None, None));
    }
}
