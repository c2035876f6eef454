//! What a tag can say beside its meaning: the reward's worth, the side, how the animal is.

use serde::{Deserialize, Serialize};

/// What a reward is worth to the animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RewardValue {
    /// An everyday reward.
    Low,
    /// A better one, for the level being worked on.
    High,
    /// Several high ones at once, rare.
    Jackpot,
}

impl RewardValue {
    /// The name in records and where values are counted.
    pub fn name(self) -> &'static str {
        match self {
            RewardValue::Low => "low",
            RewardValue::High => "high",
            RewardValue::Jackpot => "jackpot",
        }
    }
}

/// Side of the animal's body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The animal's left.
    Left,
    /// The animal's right.
    Right,
}

/// How the animal is, as the trainer sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mood {
    /// Offers the behaviour eagerly.
    Keen,
    /// Relaxed and willing.
    Calm,
    /// Uneasy; asks for an early end.
    Worried,
    /// Slowing down; asks for an early end.
    Tired,
}
