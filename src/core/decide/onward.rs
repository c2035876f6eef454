//! The end of the road: what comes after a step that is held, and goals that nobody measured.

use serde::{Deserialize, Serialize};

use super::Known;
use crate::plan::{Dimension, Step};

/// This many days a last step is held before the next thing is tried with it (common practice, no source).
const THINNER_AFTER_DAYS: u32 = 7;
const TEST_AFTER_DAYS: u32 = 14;

/// What comes after a step that is held: one thing after the other (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Onward {
    /// In other places, with other people.
    OtherPlaces,
    /// Fewer of its tries are paid.
    ThinnerRewards,
    /// Left alone for days, and then tested.
    RetentionTest,
    /// Once a week is enough.
    OnceAWeek,
}

impl Onward {
    pub(super) fn of(known: &Known) -> Self {
        match known.held_days {
            _ if known.retained => Onward::OnceAWeek,
            ..THINNER_AFTER_DAYS => Onward::OtherPlaces,
            THINNER_AFTER_DAYS..TEST_AFTER_DAYS => Onward::ThinnerRewards,
            _ => Onward::RetentionTest,
        }
    }
}

/// A goal in seconds or metres that no try was measured against: that it was met is only what the trainer said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Unmeasured {
    /// What the goal is about.
    pub dimension: Dimension,
    /// The goal, in the dimension's unit.
    pub goal: f64,
}

pub(super) fn unmeasured(step: &Step, known: &Known) -> Option<Unmeasured> {
    let goal = step.goal?;
    let can_be =
        matches!(step.dimension, Dimension::Duration | Dimension::Distance | Dimension::Latency);
    (can_be && !known.measured).then_some(Unmeasured { dimension: step.dimension, goal })
}
