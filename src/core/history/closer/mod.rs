//! What trainers ask for and cannot see: how it goes minute by minute, how many sessions a step takes, what
//! each treat and a jackpot do to what comes next, and the trainer's own hands. All from timing that is
//! recorded anyway; each number with its interval, and none where it would say nothing.

mod criterion;
mod hands;
mod minutes;
mod pay;

use serde::Serialize;

pub use criterion::ToCriterion;
pub use hands::Hands;
pub use minutes::{Minute, Minutes};
pub use pay::{Jackpots, Pays};

use super::course::{Course, Placed};
use crate::plan::Plan;
use crate::stats::{Estimate, Level as Confidence, summary};

/// Latest sessions that are looked at: an animal changes, and so does a trainer.
pub const LATEST: usize = 20;

/// All of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Closer {
    /// Minute by minute.
    pub minutes: Minutes,
    /// Sessions that a step takes.
    pub to_criterion: ToCriterion,
    /// What each treat does to the next try.
    pub pays: Vec<Pays>,
    /// What jackpots do to the next five tries.
    pub jackpots: Option<Jackpots>,
    /// Each person's own hands.
    pub hands: Vec<Hands>,
}

/// Looks closer at a behaviour, by the present plan.
pub fn look(course: &Course, plan: &Plan) -> Closer {
    Closer {
        minutes: minutes::of(course),
        to_criterion: criterion::of(course, &plan.advice),
        pays: pay::of(course, plan),
        jackpots: pay::jackpots(course),
        hands: hands::of(course),
    }
}

/// Median of times with its interval; `None` below six, where there is no interval at 95 %.
fn usual(times: &[f64]) -> Option<Estimate> {
    summary::median_interval(times, Confidence::NINETY_FIVE).ok()
}

/// Seconds from cue to answer of a try, when both are known: a miss only tells when it was given up.
fn answer_s(one: &Placed) -> Option<f64> {
    one.was.latency_s.filter(|_| one.paid().is_some())
}

#[cfg(test)]
mod tests;
