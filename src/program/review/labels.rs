//! Short words for the things of a session, as they stand on pages and in captions. Pure.

use std::time::Duration;

use crate::plan::{RewardValue, Side, Words};
use crate::session::{MissedBecause, Outcome, Rep};

pub(crate) fn value(value: RewardValue) -> &'static str {
    match value {
        RewardValue::Low => "low",
        RewardValue::High => "high",
        RewardValue::Jackpot => "jackpot",
    }
}

pub(crate) fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
    }
}

pub(crate) fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Rewarded(paid) => value(paid),
        Outcome::Missed(MissedBecause::Said) => "missed",
        Outcome::Missed(MissedBecause::HoldRanOut) => "missed, no answer in time",
    }
}

/// How a try went: a value that was named by the plan's word, `bonus (high)`.
pub(crate) fn went(rep: &Rep, words: &Words) -> String {
    rep.paid_as(words).unwrap_or_else(|| outcome(rep.outcome).to_owned())
}

/// "Try 3: step 2, high, left".
pub(crate) fn rep(number: usize, rep: &Rep, words: &Words) -> String {
    let side = rep.side.map_or(String::new(), |s| format!(", {}", side(s)));
    format!("Try {number}: step {}, {}{side}", rep.step, went(rep, words))
}

/// `2:07`.
pub(crate) fn clock(span: Duration) -> String {
    let s = span.as_secs();
    format!("{}:{:02}", s / 60, s % 60)
}

/// One decimal, or none from ten on.
pub(crate) fn number(x: f64) -> String {
    // Never "-0.0".
    let x = if x.abs() < 0.05 { 0.0 } else { x };
    if x.abs() < 9.95 { format!("{x:.1}") } else { format!("{x:.0}") }
}
