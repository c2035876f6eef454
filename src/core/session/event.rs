//! What goes into the engine, what comes out, and what the log keeps.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::{Answer, Elsewhere};
use crate::at::At;
use crate::interpret::{OtherReading, Said};
use crate::reason::Reason;

/// Something that happened, as the engine takes it in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Input {
    /// A tag was heard.
    Tagged {
        /// What it means.
        said: Said,
        /// The words that were heard.
        words: String,
    },
    /// Something was heard that may be a tag; it is kept for the review and changes no rep.
    Doubted {
        /// The likelier reading.
        words: String,
        /// What stands beside it.
        other: OtherReading,
    },
    /// No sound came in for a while, up to this moment.
    Gap {
        /// How long.
        lasted: Duration,
        /// Why, in words for a person.
        why: String,
    },
    /// Hushtally itself has a problem from now on, such as no sound, or a tag that is not on disk.
    Trouble {
        /// What, in words for a person.
        why: String,
    },
    /// A note was dictated or typed.
    Noted {
        /// Its text.
        text: String,
    },
    /// What the animal did in other sessions of the sitting.
    Elsewhere(Elsewhere),
}

impl Input {
    /// A tag, as heard.
    pub fn said(said: Said, words: impl Into<String>) -> Self {
        Input::Tagged { said, words: words.into() }
    }
}

/// A past fact of a session. Inputs are facts; the rest follows from them and is kept for the record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Event {
    /// What came in.
    Input(Input),
    /// What followed from it.
    Derived(Derived),
}

/// A fact that follows from the inputs before it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Derived {
    /// The session's time started.
    Began {
        /// Step worked on.
        step: u8,
    },
    /// No marker came within the limited hold: a miss by itself.
    HoldRanOut,
    /// Something needed the trainer's attention.
    Nudged {
        /// What.
        nudge: NudgeKind,
        /// Why.
        reason: Reason,
    },
    /// The session ended.
    Finished {
        /// Why.
        why: WhyEnded,
    },
}

/// An event and when it was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Logged {
    /// Session time; for a tag the onset of its first word.
    pub at: At,
    /// What.
    pub event: Event,
}

/// Why a session ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyEnded {
    /// The trainer said so.
    Said,
    /// The recording ended, or the program was closed.
    SoundEnded,
}

/// What the engine asks of the world. To be carried out in order.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an output not carried out is lost"]
pub enum Output {
    /// Put this on disk, before anything that follows.
    Append(Logged),
    /// Play this nudge now.
    Play(NudgeKind),
    /// Say this to the trainer.
    Say(Answer),
}

/// Our quiet signals. The order is their importance, least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NudgeKind {
    /// The tag is on disk.
    Heard,
    /// Something was heard that may be a tag.
    NotSure,
    /// This one beat the criterion of a measured step.
    GoodOne,
    /// The step is ready to rise.
    StepReady,
    /// Jackpots come too often to stay special.
    JackpotsOften,
    /// Few treats are left, or the day's budget is nearly spent.
    BudgetLow,
    /// The step is too much at present.
    StepTooMuch,
    /// Waiting longer would thin the rewards: pay this one.
    PayThisOne,
    /// Rewards are getting too rare.
    RateFalling,
    /// That was the high point: stop here.
    HighPoint,
    /// End soon, on a good one.
    EndSoon,
    /// End now.
    EndNow,
    /// Hushtally itself has a problem, such as no sound.
    Trouble,
}

impl NudgeKind {
    /// Every kind, least important first.
    pub const ALL: [NudgeKind; 13] = [
        NudgeKind::Heard,
        NudgeKind::NotSure,
        NudgeKind::GoodOne,
        NudgeKind::StepReady,
        NudgeKind::JackpotsOften,
        NudgeKind::BudgetLow,
        NudgeKind::StepTooMuch,
        NudgeKind::PayThisOne,
        NudgeKind::RateFalling,
        NudgeKind::HighPoint,
        NudgeKind::EndSoon,
        NudgeKind::EndNow,
        NudgeKind::Trouble,
    ];

    /// The name used in `prompts/` and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            NudgeKind::Heard => "heard",
            NudgeKind::NotSure => "not_sure",
            NudgeKind::GoodOne => "good_one",
            NudgeKind::StepReady => "step_ready",
            NudgeKind::JackpotsOften => "jackpots_often",
            NudgeKind::BudgetLow => "budget_low",
            NudgeKind::StepTooMuch => "step_too_much",
            NudgeKind::PayThisOne => "pay_this_one",
            NudgeKind::RateFalling => "rate_falling",
            NudgeKind::EndSoon => "end_soon",
            NudgeKind::HighPoint => "high_point",
            NudgeKind::EndNow => "end_now",
            NudgeKind::Trouble => "trouble",
        }
    }
}
