//! Did a change of the plan change the behaviour: phases between changes, and what lies between them.

use jiff::civil::Date;
use serde::Serialize;

use super::Found;
use super::level::{Level, Measure};
use crate::stats::Level as Confidence;
use crate::stats::effect::{non_overlap, tau_u};
use crate::stats::{Estimate, StatsError, summary};

/// Least sessions of a phase that is compared (What Works Clearinghouse single-case standards ask for
/// three; from memory).
pub const LEAST_SESSIONS: usize = 3;

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
    values: Vec<f64>,
}

/// What lies between two phases that follow each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effect {
    /// Local date of the phase line: the first session by the new plan.
    pub line: Date,
    /// Version before it.
    pub before: i64,
    /// Version after it.
    pub after: i64,
    /// Chance that a session after the line is better than one before it; 0.5 is no effect. The interval
    /// treats sessions as independent and is narrower than it should be.
    pub non_overlap: Found<Estimate>,
    /// Tau-U, with the trend of the first phase taken off.
    pub tau_u: Found<Estimate>,
    /// Its two-sided p.
    pub tau_u_p: Option<f64>,
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
                values,
            }
        })
        .collect()
}

/// Compares each phase with the one before it.
pub fn between(phases: &[Phase], measure: Measure) -> Vec<Effect> {
    phases
        .windows(2)
        .map(|pair| {
            let (before, after) = (&pair[0].values, &pair[1].values);
            let (level, better) = (Confidence::NINETY_FIVE, measure.better());
            let enough = || {
                let got = before.len().min(after.len());
                if got < LEAST_SESSIONS {
                    let what = "sessions on each side of the change";
                    return Err(StatsError::TooFew { what, needed: LEAST_SESSIONS, got });
                }
                Ok(())
            };
            let tau = enough().and_then(|()| tau_u(before, after, better, true, level));
            Effect {
                line: pair[1].from,
                before: pair[0].version,
                after: pair[1].version,
                non_overlap: enough()
                    .and_then(|()| non_overlap(before, after, better, level))
                    .into(),
                tau_u_p: tau.as_ref().ok().map(|tau| tau.p),
                tau_u: tau.map(|tau| tau.tau).into(),
            }
        })
        .collect()
}
