//! What each kind of treat does to the next try, and a jackpot to the next five.

use serde::Serialize;

use super::super::course::{Course, Placed};
use super::{LATEST, usual};
use crate::plan::{Plan, RewardValue};
use crate::stats::{Estimate, Level as Confidence, count, proportions};

/// Least times on each side for a waning.
const LEAST: usize = 10;
/// This many tries after a jackpot.
const AFTER: usize = 5;
/// Fewer jackpots than this say nothing.
const LEAST_JACKPOTS: usize = 3;

/// What one kind of treat does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pays {
    /// Its value.
    pub value: RewardValue,
    /// What it is, by the present plan.
    pub what: String,
    /// Median seconds from it to the next try, eating included.
    pub next_s: Estimate,
    /// No other kind is followed by a try as quick: the intervals lie apart.
    pub quickest: bool,
    /// How many times longer that takes in the last third of a session than in the first; `None` where
    /// too few were given.
    pub wanes: Option<Estimate>,
}

/// What jackpots do to the next five tries.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Jackpots {
    /// How many.
    pub jackpots: usize,
    /// Share met in the five tries after one, less that of all other tries.
    pub more_met: Estimate,
}

pub(super) fn of(course: &Course, plan: &Plan) -> Vec<Pays> {
    let split = course.sessions.len().saturating_sub(LATEST);
    let mut pays: Vec<Pays> = [RewardValue::Low, RewardValue::High, RewardValue::Jackpot]
        .into_iter()
        .filter_map(|value| {
            let (mut times, mut early, mut late) = (Vec::new(), Vec::new(), Vec::new());
            for trained in &course.sessions[split..] {
                for pair in trained.tries.windows(2).filter(|pair| pair[0].paid() == Some(value)) {
                    let next = pair[1].took_s;
                    times.push(next);
                    let part = pair[0].was.active_s / trained.session.active_s.max(1.0);
                    if part < 1.0 / 3.0 {
                        early.push(next);
                    } else if part > 2.0 / 3.0 {
                        late.push(next);
                    }
                }
            }
            let next_s = usual(&times)?;
            let what = plan.rewards.of(value).what.clone();
            Some(Pays { value, what, next_s, quickest: false, wanes: ratio(&early, &late) })
        })
        .collect();
    for index in 0..pays.len() {
        let mut others = pays.iter().enumerate().filter(|(other, _)| *other != index);
        pays[index].quickest =
            pays.len() > 1 && others.all(|(_, other)| pays[index].next_s.high < other.next_s.low);
    }
    pays
}

/// How many times longer the second times are than the first: ratio of geometric means, with the interval
/// of Welch's test on the logs by the normal quantile (Welch 1947, Biometrika 34:28).
fn ratio(first: &[f64], second: &[f64]) -> Option<Estimate> {
    let logs = |times: &[f64]| -> Option<(f64, f64)> {
        let logs: Vec<f64> = times.iter().filter(|t| **t > 0.0).map(|t| t.ln()).collect();
        let n = logs.len() as f64;
        (logs.len() >= LEAST).then(|| {
            let mean = logs.iter().sum::<f64>() / n;
            (mean, logs.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0) / n)
        })
    };
    let ((a, var_a), (b, var_b)) = (logs(first)?, logs(second)?);
    let half = Confidence::NINETY_FIVE.z() * (var_a + var_b).sqrt();
    let n = count(first.len() + second.len());
    let [point, low, high] = [0.0, -half, half].map(|off| (b - a + off).exp());
    Some(Estimate { point, low, high, n })
}

pub(super) fn jackpots(course: &Course) -> Option<Jackpots> {
    let split = course.sessions.len().saturating_sub(LATEST);
    let (mut jackpots, mut after, mut other) = (0, (0, 0), (0, 0));
    for trained in &course.sessions[split..] {
        let mut since = usize::MAX;
        for one in &trained.tries {
            let tally = if since < AFTER { &mut after } else { &mut other };
            *tally = (tally.0 + u32::from(one.met), tally.1 + 1);
            since = since.saturating_add(1);
            if is_jackpot(one) {
                (jackpots, since) = (jackpots + 1, 0);
            }
        }
    }
    if jackpots < LEAST_JACKPOTS {
        return None;
    }
    let more_met = proportions::difference(after, other, Confidence::NINETY_FIVE).ok()?;
    Some(Jackpots { jackpots, more_met })
}

fn is_jackpot(one: &Placed) -> bool {
    one.paid() == Some(RewardValue::Jackpot)
}
