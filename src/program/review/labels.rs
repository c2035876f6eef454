//! Short words for the things of a session, as they stand on pages and in captions. Pure.

use std::time::Duration;

use minijinja::context;

use crate::plan::{RewardValue, Side, Words};
use crate::session::{MissedBecause, Outcome, Rep};
use crate::wording::{filled, text};

pub(crate) fn value(value: RewardValue) -> String {
    text(match value {
        RewardValue::Low => "page.value_low",
        RewardValue::High => "page.value_high",
        RewardValue::Jackpot => "page.value_jackpot",
    })
}

pub(crate) fn side(side: Side) -> String {
    text(match side {
        Side::Left => "page.side_left",
        Side::Right => "page.side_right",
    })
}

pub(crate) fn outcome(outcome: Outcome) -> String {
    match outcome {
        Outcome::Rewarded(paid) => value(paid),
        Outcome::Missed(MissedBecause::Said) => text("page.missed_said"),
        Outcome::Missed(MissedBecause::HoldRanOut) => text("page.missed_hold"),
    }
}

/// How a try went: a value that was named by the plan's word, `bonus (high)`.
pub(crate) fn went(rep: &Rep, words: &Words) -> String {
    rep.paid_as(words).unwrap_or_else(|| outcome(rep.outcome))
}

/// "Try 3: step 2, high, left".
pub(crate) fn rep(number: usize, rep: &Rep, words: &Words) -> String {
    let (went, side) = (went(rep, words), rep.side.map(side));
    filled("page.try_in_words", context! { number, step => rep.step, went, side })
}

/// What a second observer saw: "step 2, high".
pub(crate) fn seen(step: u8, paid: Option<RewardValue>) -> String {
    match paid {
        None => text("page.missed_said"),
        Some(paid) => filled("page.step_went", context! { step, went => value(paid) }),
    }
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
