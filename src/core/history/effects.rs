//! Did a change of the plan change the behaviour: phases between changes, and what lies between them.
//!
//! A behaviour in training gets better by itself, so most of what differs before and after a change is not
//! its effect. An effect is shown only when the level stepped beyond the trend that goes on, when the
//! phase before was long enough and had no trend of its own, and when the test may be looked at every
//! day. All else is "not shown".

use jiff::civil::Date;
use serde::Serialize;

use super::found::unknown;
use super::level::{self, Level, Measure};
use super::{Found, quantities};
use crate::sentences::because;
use crate::stats::Level as Confidence;
use crate::stats::anytime::{self, AnyTime};
use crate::stats::effect::{non_overlap, tau_u};
use crate::stats::percentile::Better;
use crate::stats::trend::mann_kendall;
use crate::stats::{Estimate, StatsError, permutation, summary};

/// Least sessions of a phase that is compared (What Works Clearinghouse single-case standards ask for
/// three, five without reservations; from memory).
pub const LEAST_SESSIONS: usize = 5;
/// A phase whose order by chance alone is not likelier than this counts as one with a trend: a doubt is
/// enough, as a short phase seldom shows more.
const TREND: f64 = 0.2;
const ALPHA: f64 = 0.05;
/// Steps that are thought of, in units of the scatter of a session.
const STEPS: [f64; 2] = [0.5, 1.5];

/// Sessions by one version of the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Phase {
    /// Version of the plan.
    pub version: i64,
    /// Local date of its first session.
    pub from: Date,
    /// Local date of its last session.
    pub to: Date,
    /// Sessions in which the step was worked on.
    pub sessions: usize,
    /// Median of the step's measure; `None` when it was never measured.
    pub median: Option<f64>,
    #[serde(skip)]
    levels: Vec<Level>,
}

/// What lies between two phases that follow each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhaseEffect {
    /// Local date of the phase line: the first session by the new plan.
    pub line: Date,
    /// Version before it.
    pub before: i64,
    /// Version after it.
    pub after: i64,
    /// Whether an effect is shown.
    pub shown: Shown,
    /// Why, or why not.
    pub because: String,
    /// By how much the level stepped beyond the trend that goes on: of a share as it is, of a time as a
    /// part of it; the interval may be looked at at any time.
    pub step: Found<Estimate>,
    /// Chance that a session after the line is better than one before it; 0.5 means no effect.
    pub non_overlap: Found<Estimate>,
    /// Its exact two-sided p, as if sessions were exchangeable but for the change.
    pub p: Option<f64>,
    /// Tau-U; only where the phase before is long enough and has no trend, so that none is taken off.
    pub tau_u: Found<Estimate>,
}

/// Whether a change of plan did something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// Better by it.
    Better,
    /// Worse by it.
    Worse,
    /// Not shown: neither that it did something nor that it did nothing.
    NotShown,
}

/// Splits the levels of a step where the plan's version changed.
pub fn phases(levels: &[Level], measure: Measure) -> Vec<Phase> {
    levels
        .chunk_by(|a, b| a.version == b.version)
        .map(|chunk| {
            let values: Vec<f64> = chunk.iter().filter_map(|level| level.value(measure)).collect();
            Phase {
                version: chunk[0].version,
                from: chunk[0].day,
                to: chunk[chunk.len() - 1].day,
                sessions: chunk.len(),
                median: summary::median(&values).ok(),
                levels: chunk.to_vec(),
            }
        })
        .collect()
}

/// Compares each phase with the one before it.
pub fn between(phases: &[Phase], measure: Measure) -> Vec<PhaseEffect> {
    phases.windows(2).map(|pair| effect(&pair[0], &pair[1], measure)).collect()
}

fn effect(first: &Phase, second: &Phase, measure: Measure) -> PhaseEffect {
    let values = |phase: &Phase| -> Vec<f64> {
        phase.levels.iter().filter_map(|level| level.value(measure)).collect()
    };
    let (before, after) = (values(first), values(second));
    let (confidence, better) = (Confidence::NINETY_FIVE, measure.better());
    let fair = enough(&before, &after).and_then(|()| no_trend(&before));
    let stepped = enough(&before, &after)
        .and_then(|()| step(&first.levels, &second.levels, measure).map_err(|e| unknown(&e)));
    let (shown, because) = match (&fair, &stepped) {
        (Err(why), _) | (_, Err(why)) => (Shown::NotShown, why.clone()),
        (Ok(()), Ok(found)) => told(found, better, after.len()),
    };
    PhaseEffect {
        line: second.from,
        before: first.version,
        after: second.version,
        shown,
        because,
        step: stepped.map(|found| found.effect).map_or_else(Found::NotYet, Found::Known),
        p: permutation::rank_sum(&before, &after).ok(),
        non_overlap: enough(&before, &after)
            .and_then(|()| {
                non_overlap(&before, &after, better, confidence).map_err(|e| unknown(&e))
            })
            .map_or_else(Found::NotYet, Found::Known),
        tau_u: fair
            .and_then(|()| {
                tau_u(&before, &after, better, false, confidence).map_err(|e| unknown(&e))
            })
            .map_or_else(Found::NotYet, |tau| Found::Known(within_limits(tau.tau))),
    }
}

/// Tau-U lies between -1 and 1; a normal interval may not say otherwise.
fn within_limits(tau: Estimate) -> Estimate {
    Estimate { low: tau.low.max(-1.0), high: tau.high.min(1.0), ..tau }
}

fn enough(before: &[f64], after: &[f64]) -> Result<(), String> {
    let short = |sessions: usize, side: &str| {
        let inputs = [("sessions", sessions as f64, ""), ("needed", LEAST_SESSIONS as f64, "")];
        Err(because("few_to_compare", &quantities(&inputs), &[("side", side)]))
    };
    match (before.len(), after.len()) {
        (n, _) if n < LEAST_SESSIONS => short(n, "before"),
        (_, n) if n < LEAST_SESSIONS => short(n, "since"),
        _ => Ok(()),
    }
}

fn no_trend(before: &[f64]) -> Result<(), String> {
    match mann_kendall(before) {
        Ok(test) if test.p() > TREND => Ok(()),
        Ok(_) => Err(because("changing_before", &[], &[])),
        Err(error) => Err(unknown(&error)),
    }
}

/// How far the level stepped at the line, beyond a trend that goes through both phases.
fn step(before: &[Level], after: &[Level], measure: Measure) -> Result<AnyTime, StatsError> {
    let measured: Vec<(&Level, f64)> = before
        .iter()
        .map(|level| (level, 0.0))
        .chain(after.iter().map(|level| (level, 1.0)))
        .filter(|(level, _)| level.value(measure).is_some())
        .collect();
    let (levels, since): (Vec<&Level>, Vec<f64>) = measured.into_iter().unzip();
    let (values, weights) = level::to_test(&levels, measure);
    let numbers: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
    let ones = vec![1.0; values.len()];
    let effect = anytime::Hypothesis { of: &since, beside: &[&ones, &numbers], sizes: &STEPS };
    anytime::test(&values, &weights, &effect, Confidence::NINETY_FIVE)
}

fn told(found: &AnyTime, better: Better, sessions: usize) -> (Shown, String) {
    if found.p > ALPHA {
        return (Shown::NotShown, because("may_be_chance", &[], &[]));
    }
    let up = found.effect.point > 0.0;
    let shown = if up == (better == Better::Higher) { Shown::Better } else { Shown::Worse };
    let inputs = quantities(&[("sessions", sessions as f64, "")]);
    (shown, because("stepped", &inputs, &[]))
}
