//! What is said and asked of the world while doubts are settled.

use serde::Serialize;

use super::{Doubt, SettledCounts};
use crate::dialogue::VoiceChange;
use crate::interpret::Details;
use crate::plan::{Command, Role, Words};

/// What a doubt came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "as", rename_all = "snake_case")]
pub enum Settled {
    /// A rep; what is not named is as the plan has it.
    Rep(Details),
    /// A miss, at this step and side where they are named.
    Miss(Details),
    /// Nothing that counts.
    Nothing {
        /// It was a tag, but of a kind that counts no rep.
        no_rep: bool,
    },
}

/// To be carried out in order.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum SettleEffect {
    /// Say this, and show it.
    Say(SettleLine),
    /// Show it only.
    Show(SettleLine),
    /// Put this on disk, and tell whether it is there.
    Settle {
        /// Index of the doubt.
        doubt: usize,
        /// What it was.
        settled: Settled,
    },
    /// Take back what was put on disk for this doubt, and tell whether that is there.
    TakeBack {
        /// Index of the doubt.
        doubt: usize,
    },
    /// Speak otherwise from now on.
    Voice(VoiceChange),
    /// It is over.
    End,
}

/// The words to answer by; a plan may lack some.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Spoken {
    /// It was what was heard.
    pub yes: String,
    /// It was the other reading.
    pub other: String,
    /// It was nothing.
    pub no: String,
    /// Takes the last answer back.
    pub take_back: String,
    /// Goes before the following.
    pub attention: String,
    /// Leaves one for later.
    pub later: String,
    /// Ends it.
    pub finish: String,
}

impl Spoken {
    /// The first phrase of each role.
    pub fn of(words: &Words) -> Self {
        let first = |role: Role| words.of(&role).first().cloned().unwrap_or_default();
        Spoken {
            yes: first(Role::Marker),
            other: first(Role::Change),
            no: first(Role::Miss),
            take_back: first(Role::TakeBack),
            attention: first(Role::Attention),
            later: first(Role::Command(Command::GoOn)),
            finish: first(Role::Command(Command::Finish)),
        }
    }
}

/// Something to say; templates in `prompts/` make sentences of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
pub enum SettleLine {
    /// How many there are, and how to answer.
    Begin {
        /// Whose session.
        animal: String,
        /// How many.
        of: usize,
        /// The words.
        #[serde(flatten)]
        spoken: Spoken,
    },
    /// There is nothing to settle.
    NoneThere {
        /// Whose session.
        animal: String,
    },
    /// What was this?
    Doubt {
        /// Its number, from 1.
        number: usize,
        /// How many there are.
        of: usize,
        /// The doubt.
        #[serde(flatten)]
        doubt: Doubt,
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: String,
    },
    /// It is on disk.
    Settled {
        /// As this.
        #[serde(flatten)]
        settled: Settled,
    },
    /// It is left for later.
    Later,
    /// It is more than one tag, and is left.
    Several,
    /// Somebody else settled it meanwhile.
    Gone,
    /// There is no other reading.
    NoOther,
    /// The last answer does not count any more.
    TakenBack,
    /// There is no answer to take back.
    NothingBack,
    /// That was the last one.
    Last {
        /// The word to take back by.
        take_back: String,
    },
    /// What came of it all.
    Over {
        /// In numbers.
        #[serde(flatten)]
        tally: SettledCounts,
    },
    /// An answer could not be put on disk.
    Unsaved {
        /// Why.
        why: String,
    },
    /// Half understood.
    NotSure {
        /// What was heard.
        words: String,
    },
    /// Heard, and of no use here.
    NotNow {
        /// What was heard.
        words: String,
    },
}
