//! Is it working: per step over sessions, the trend, the change over time, the spread, and what plan changes did.

use serde::Serialize;

use super::course::Course;
use super::effects::{self, Effect, Phase};
use super::level::{Level, Measure, levels};
use super::{Found, reason};
use crate::plan::{Advice, Dimension};
use crate::session::Reason;
use crate::stats::over_time::{self, percent_change};
use crate::stats::percentile::Better;
use crate::stats::trend::{Direction, MannKendall, mann_kendall_at, theil_sen};
use crate::stats::{Estimate, Level as Confidence, summary};

/// Least sessions for a trend: with four in a row, rising all the time has p = 0.083, so that five are the
/// least that can show anything at 5 % (exact tail of the Mann–Kendall test).
pub const LEAST_SESSIONS: usize = 5;
/// Latest sessions that a trend is fitted to: the fit compares all pairs.
const MOST_SESSIONS: usize = 400;
const ALPHA: f64 = 0.05;

/// How one step goes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepProgress {
    /// Number in the present plan, from 1.
    pub step: u8,
    /// Its name.
    pub name: String,
    /// The element it raises.
    pub dimension: Dimension,
    /// Goal of a measured criterion.
    pub goal: Option<f64>,
    /// What is measured.
    pub measure: Measure,
    /// Every session in which it was worked on.
    pub levels: Vec<Level>,
    /// Median of the measure over all sessions.
    pub median: Option<f64>,
    /// Median distance from the median: how much it varies.
    pub spread: Option<f64>,
    /// Change per week.
    pub trend: Found<Trend>,
    /// Change over time of the rewarded tries a minute.
    pub change_over_time: Found<ChangeOverTime>,
    /// Stretches between changes of the plan.
    pub phases: Vec<Phase>,
    /// What each change did.
    pub effects: Vec<Effect>,
    /// In one word.
    pub verdict: Verdict,
    /// Why.
    pub reason: Reason,
}

/// A trend with its test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// Change of the measure per week (Theil–Sen) with Sen's interval.
    pub per_week: Estimate,
    /// Mann–Kendall S.
    pub s: i64,
    /// Its two-sided p, exact where there is one.
    pub p: f64,
    /// Sessions it rests on.
    pub n: u32,
}

/// How rewarded tries a minute change from week to week.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChangeOverTime {
    /// Factor a week with its 95 % interval (Theil–Sen on the logarithms).
    pub per_week: Estimate,
    /// The same as a change in percent a week; `None` where no change is shown, that is, where the interval
    /// has the factor 1 in it.
    pub percent_a_week: Option<Estimate>,
    /// Highest over lowest ratio of a session to the line.
    pub spread: f64,
    /// Sessions without a reward, which have no logarithm and are left out.
    pub without_reward: usize,
}

/// A step in one word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Never worked on.
    Untouched,
    /// The latest full session reached the plan's threshold for raising.
    Reached,
    /// A trend to the better.
    Better,
    /// A trend to the worse.
    Worse,
    /// Enough sessions, and no trend.
    NoTrend,
    /// Not enough sessions.
    TooEarly,
}

/// Every step of the present plan.
pub fn steps(course: &Course, advice: &Advice) -> Vec<StepProgress> {
    course.numbers().filter_map(|number| step(course, number, advice)).collect()
}

/// One step; `None` when the plan does not have it.
pub fn step(course: &Course, number: u8, advice: &Advice) -> Option<StepProgress> {
    let rung = course.present.rungs.get(usize::from(number).checked_sub(1)?)?;
    let levels = levels(course, number);
    let wanted = Measure::of(rung.dimension);
    // A step of duration whose holds were never begun with the start word is still met or not met.
    let measured = levels.iter().any(|level| level.value(wanted).is_some());
    let measure = if measured { wanted } else { Measure::ShareMet };
    let points: Vec<(f64, f64)> =
        levels.iter().filter_map(|level| Some((level.at_days, level.value(measure)?))).collect();
    let latest = &points[points.len().saturating_sub(MOST_SESSIONS)..];
    let values: Vec<f64> = points.iter().map(|(_, value)| *value).collect();
    let trend = trend(latest);
    let (verdict, reason) = verdict(&levels, measure, &trend, advice);
    let phases = effects::phases(&levels, measure);
    Some(StepProgress {
        step: number,
        name: rung.name.clone(),
        dimension: rung.dimension,
        goal: rung.goal,
        measure,
        median: summary::median(&values).ok(),
        spread: summary::mad(&values).ok(),
        trend,
        change_over_time: change_over_time(&levels),
        effects: effects::between(&phases, measure),
        phases,
        verdict,
        reason,
        levels,
    })
}

fn trend(points: &[(f64, f64)]) -> Found<Trend> {
    if points.len() < LEAST_SESSIONS {
        return Found::needs(LEAST_SESSIONS, points.len(), "sessions");
    }
    let (days, values): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let fitted = mann_kendall_at(&days, &values)
        .and_then(|test| Ok((test, theil_sen(&days, &values, Confidence::NINETY_FIVE)?)));
    fitted
        .map(|(test, line): (MannKendall, _)| Trend {
            per_week: line.slope.scaled(over_time::WEEK),
            s: test.s,
            p: test.p(),
            n: test.n,
        })
        .into()
}

fn change_over_time(levels: &[Level]) -> Found<ChangeOverTime> {
    let rates = levels.iter().filter_map(|level| Some((level.at_days, level.rewarded_per_min?)));
    let (days, rates): (Vec<f64>, Vec<f64>) = rates.filter(|(_, rate)| *rate > 0.0).unzip();
    if days.len() < LEAST_SESSIONS {
        return Found::needs(LEAST_SESSIONS, days.len(), "sessions with a reward");
    }
    let from = days.len().saturating_sub(MOST_SESSIONS);
    let line = over_time::robust(&days[from..], &rates[from..], Confidence::NINETY_FIVE);
    line.map(|line| ChangeOverTime {
        percent_a_week: percent(line.per_week),
        per_week: line.per_week,
        spread: line.spread,
        without_reward: levels.len() - days.len(),
    })
    .into()
}

/// A factor with its interval in percent of change; `None` when the interval has 1 in it.
fn percent(factor: Estimate) -> Option<Estimate> {
    let shown = factor.low > 1.0 || factor.high < 1.0;
    // The ends of an interval may be 0 or endless: then they are -100 % and endless here too.
    let end = |end: f64| percent_change(end).unwrap_or((end - 1.0) * 100.0);
    shown.then(|| Estimate {
        point: end(factor.point),
        low: end(factor.low),
        high: end(factor.high),
        n: factor.n,
    })
}

fn verdict(
    levels: &[Level],
    measure: Measure,
    trend: &Found<Trend>,
    advice: &Advice,
) -> (Verdict, Reason) {
    let method = "Theil–Sen slope and Mann–Kendall test, two-sided at 5 %";
    let source = "Sen 1968, JASA 63:1379; Kendall 1975";
    let Some(last) = levels.last() else {
        let why = "it was not worked on yet";
        return (Verdict::Untouched, reason("progress", why, &[], method, source));
    };
    let share = f64::from(last.met) / f64::from(last.tries);
    if last.tries >= advice.tries && share >= advice.raise_at {
        let because =
            format!("{} of {} met the criterion in the latest session", last.met, last.tries);
        let inputs =
            [("met", f64::from(last.met), "tries"), ("tries", f64::from(last.tries), "tries")];
        let method = "share of the latest full session against the plan's threshold";
        return (Verdict::Reached, reason("progress", because, &inputs, method, super::CUSTOM));
    }
    let Found::Known(trend) = trend else {
        let because =
            format!("a trend needs {LEAST_SESSIONS} sessions, and there are {}", levels.len());
        return (Verdict::TooEarly, reason("progress", because, &[], method, source));
    };
    let direction = if trend.p < ALPHA { trend.s.signum() } else { 0 };
    let way = match direction {
        1 => Direction::Up,
        -1 => Direction::Down,
        _ => Direction::Unclear,
    };
    let (verdict, word) = match (way, measure.better()) {
        (Direction::Unclear, _) => (Verdict::NoTrend, "shows no trend"),
        (Direction::Up, Better::Higher) | (Direction::Down, Better::Lower) => {
            (Verdict::Better, "is getting better")
        }
        _ => (Verdict::Worse, "is getting worse"),
    };
    let because = format!("the {} {word} over {} sessions", measure.name(), trend.n);
    let inputs = [
        ("change per week", trend.per_week.point, measure.unit()),
        ("S", trend.s as f64, ""),
        ("sessions", f64::from(trend.n), ""),
    ];
    let reason = Reason {
        probability: Some(trend.p),
        ..reason("progress", because, &inputs, method, source)
    };
    (verdict, reason)
}
