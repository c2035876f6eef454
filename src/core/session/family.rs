//! Nudges by what they ask the trainer to do. There are four such families and four sounds; the reason is told in
//! words, when it is asked for.

use serde::{Deserialize, Serialize};

use super::NudgeKind;

/// What a nudge asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NudgeFamily {
    /// Something needs the trainer: ask why.
    NeedsYou,
    /// The animal may be ready for more.
    ReadyForMore,
    /// Make it easier, or pay now.
    EasierOrPay,
    /// End soon, on a good one.
    EndSoon,
}

impl NudgeFamily {
    /// Every family, least urgent first.
    pub const ALL: [NudgeFamily; 4] = [
        NudgeFamily::NeedsYou,
        NudgeFamily::ReadyForMore,
        NudgeFamily::EasierOrPay,
        NudgeFamily::EndSoon,
    ];

    /// The name used in `prompts/` and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            NudgeFamily::NeedsYou => "needs_you",
            NudgeFamily::ReadyForMore => "ready_for_more",
            NudgeFamily::EasierOrPay => "easier_or_pay",
            NudgeFamily::EndSoon => "end_soon",
        }
    }
}

impl NudgeKind {
    /// What it asks for; `None` for a receipt, which asks for nothing.
    pub fn family(self) -> Option<NudgeFamily> {
        match self {
            NudgeKind::Heard | NudgeKind::GoodOne => None,
            NudgeKind::NotSure
            | NudgeKind::JackpotsOften
            | NudgeKind::BudgetLow
            | NudgeKind::Trouble => Some(NudgeFamily::NeedsYou),
            NudgeKind::StepReady => Some(NudgeFamily::ReadyForMore),
            NudgeKind::StepTooMuch | NudgeKind::PayThisOne | NudgeKind::RateFalling => {
                Some(NudgeFamily::EasierOrPay)
            }
            NudgeKind::EndSoon | NudgeKind::HighPoint | NudgeKind::EndNow => {
                Some(NudgeFamily::EndSoon)
            }
        }
    }
}
