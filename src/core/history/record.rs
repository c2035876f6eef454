//! Reinforcement history: how much each step was paid, when it was last practised, how often it is rewarded a
//! minute, which step is the safest to fall back on, and what is due for revision.

use jiff::civil::Date;
use serde::Serialize;

use super::course::{Course, Placed};
use super::level::median;
use super::{Found, reason};
use crate::plan::RewardValue;
use crate::reason::{Quantity, Reason};
use crate::sentences::because;
use crate::stats::{Estimate, Level as Confidence, proportions};

/// Latest tries that say how sure a step is.
const RECENT: usize = 30;
/// Least tries of a step to fall back on: half a short session (common practice, no source).
const LEAST_TRIES: usize = 10;
/// A learnt step that rested this many days is due for revision (common practice, no source).
pub const REVISE_AFTER_DAYS: i32 = 14;

/// What a step has behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepRecord {
    /// Number in the present plan.
    pub step: u8,
    /// Its name.
    pub name: String,
    /// Rewarded tries that reached it, by value: low, high, jackpot.
    pub paid: [u32; 3],
    /// Sessions in which it was rewarded.
    pub sessions: usize,
    /// Local date on which it was last rewarded.
    pub last: Option<Date>,
    /// Days since then.
    pub rested_days: Option<i32>,
    /// Days since it or a later step, which contains it, was rewarded.
    pub unpractised_days: Option<i32>,
    /// Share of the latest tries on it that met the criterion, with Wilson's interval.
    pub sure: Found<Estimate>,
    /// Rewarded tries per minute in the latest session on it.
    pub rewarded_per_min: Option<f64>,
    /// Median latency of the latest tries, in seconds.
    pub latency_s: Option<f64>,
    /// Whether it was learnt and has rested for long, itself and every later step.
    pub due: bool,
}

/// Every step of the present plan, as of `today`.
pub fn steps(course: &Course, today: Date, raise_at: f64) -> Vec<StepRecord> {
    course.numbers().map(|number| step(course, number, today, raise_at)).collect()
}

fn step(course: &Course, number: u8, today: Date, raise_at: f64) -> StepRecord {
    let mut paid = [0; 3];
    let (mut sessions, mut last, mut practised) = (0, None, None);
    let mut worked: Vec<&Placed> = Vec::new();
    let mut rewarded_per_min = None;
    for trained in &course.sessions {
        let mut here = false;
        for one in trained.tries.iter().filter(|one| one.step == Some(number)) {
            if let Some(value) = one.paid() {
                let place = match value {
                    RewardValue::Low => 0,
                    RewardValue::High => 1,
                    RewardValue::Jackpot => 2,
                };
                paid[place] += 1;
                here = true;
            }
        }
        let or_later = |one: &Placed| one.step >= Some(number) && one.paid().is_some();
        if trained.tries.iter().any(or_later) {
            practised = Some(trained.session.day);
        }
        if here {
            sessions += 1;
            last = Some(trained.session.day);
        }
        let on_it: Vec<&Placed> =
            trained.tries.iter().filter(|one| one.working == Some(number)).collect();
        let seconds: f64 = on_it.iter().map(|one| one.took_s).sum();
        if seconds > 0.0 {
            let rewarded = on_it.iter().filter(|one| one.paid().is_some()).count();
            rewarded_per_min = Some(rewarded as f64 * 60.0 / seconds);
        }
        worked.extend(on_it);
    }
    let recent = &worked[worked.len().saturating_sub(RECENT)..];
    let met = recent.iter().filter(|one| one.met).count();
    let sure: Found<Estimate> = if recent.len() < LEAST_TRIES {
        Found::needs(LEAST_TRIES, recent.len(), "tries")
    } else {
        proportions::wilson(met as u32, recent.len() as u32, Confidence::NINETY_FIVE).into()
    };
    let ago = |day: Date| today.since(day).map_or(0, |span| span.get_days());
    let (rested_days, unpractised_days) = (last.map(ago), practised.map(ago));
    let learnt = sure.known().is_some_and(|share| share.point >= raise_at);
    StepRecord {
        step: number,
        name: course.present.rungs[usize::from(number) - 1].name.clone(),
        paid,
        sessions,
        last,
        rested_days,
        unpractised_days,
        due: learnt && unpractised_days.is_some_and(|days| days >= REVISE_AFTER_DAYS),
        sure,
        rewarded_per_min,
        latency_s: usual(recent.iter().filter_map(|one| one.was.latency_s)),
    }
}

/// The middle of these values; fewer than three have no usual.
fn usual(values: impl Iterator<Item = f64>) -> Option<f64> {
    let values: Vec<f64> = values.collect();
    (values.len() >= 3).then(|| median(values.into_iter())).flatten()
}

/// A step that can be gone back to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FallBack {
    /// Its number.
    pub step: u8,
    /// Its name.
    pub name: String,
    /// Days since it or a later step, which contains it, was rewarded.
    pub rested_days: Option<i32>,
    /// Whether it rested for so long that it is to be tried before anything is built on it.
    pub try_first: bool,
    /// Why.
    pub reason: Reason,
}

/// The safest step below `working`: the one whose success is surest, by the lower end of its interval; of
/// two as sure, the higher. What rested for long comes after what did not, and is to be tried first. The first step,
/// when none below was practised enough.
pub fn fall_back(records: &[StepRecord], working: u8) -> Option<FallBack> {
    let below = records.iter().filter(|record| record.step < working);
    let rested =
        |record: &StepRecord| record.unpractised_days.is_some_and(|d| d >= REVISE_AFTER_DAYS);
    let sure = |record: &StepRecord| {
        let share = record.sure.known()?;
        Some((!rested(record), share.low))
    };
    let best = below
        .filter(|record| sure(record).is_some())
        .max_by(|a, b| sure(a).partial_cmp(&sure(b)).unwrap_or(std::cmp::Ordering::Equal));
    let method = "highest lower end of Wilson's 95 % interval over the latest 30 tries, steps that rested \
                  for two weeks after the others";
    let source = "Wilson 1927, JASA 22:209";
    let of = |record: &StepRecord, try_first, reason| FallBack {
        step: record.step,
        name: record.name.clone(),
        rested_days: record.unpractised_days,
        try_first,
        reason,
    };
    match (best, records.first()) {
        (Some(record), _) => {
            let share = record.sure.known()?;
            let inputs = vec![
                Quantity::new("met", (share.point * f64::from(share.n)).round(), "tries"),
                Quantity::new("share met", share.point, ""),
                Quantity::new("lower end", share.low, ""),
                Quantity::new("tries", f64::from(share.n), ""),
                Quantity::new(
                    "days rested",
                    f64::from(record.unpractised_days.unwrap_or(0)),
                    "days",
                ),
            ];
            let reason = Reason {
                detector: "fall_back".into(),
                because: because("fall_back", &inputs, &[]),
                inputs,
                probability: None,
                method: method.into(),
                source: source.into(),
            };
            Some(of(record, rested(record), reason))
        }
        (None, Some(first)) if working > 1 => {
            let why = reason("fall_back", ("no_step_below", &[]), &[], method, source);
            Some(of(first, rested(first), why))
        }
        _ => None,
    }
}
