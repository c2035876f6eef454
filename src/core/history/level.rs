//! One step in one session as numbers: how often, how fast, how long.

use jiff::civil::Date;
use serde::Serialize;

use super::course::{Course, Placed};
use crate::plan::Dimension;
use crate::sentences::says;
use crate::stats::percentile::Better;
use crate::stats::summary;

/// What a step's progress is read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// Share of tries that met the criterion, from 0 to 1.
    ShareMet,
    /// Median rewarded hold, in seconds.
    HoldS,
    /// Median time from cue to marker, in seconds.
    LatencyS,
}

impl Measure {
    /// What suits a dimension. Holds and latencies are measured; all else is met or not met.
    pub fn of(dimension: Dimension) -> Self {
        match dimension {
            Dimension::Duration => Measure::HoldS,
            Dimension::Latency => Measure::LatencyS,
            _ => Measure::ShareMet,
        }
    }

    /// Which way is good.
    pub fn better(self) -> Better {
        if self == Measure::LatencyS { Better::Lower } else { Better::Higher }
    }

    /// As a person calls it.
    pub fn name(self) -> String {
        let measure = match self {
            Measure::ShareMet => "share",
            Measure::HoldS => "hold",
            Measure::LatencyS => "latency",
        };
        says("measure", &[], &[("measure", measure)])
    }

    /// Its unit; empty for a share.
    pub fn unit(self) -> &'static str {
        if self == Measure::ShareMet { "" } else { "s" }
    }
}

/// Work on one step in one session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Level {
    /// Place of the session among those of the behaviour, from 0.
    pub session: usize,
    /// Version of the plan.
    pub version: i64,
    /// Local date.
    pub day: Date,
    /// Days since the behaviour's first session.
    pub at_days: f64,
    /// Tries while this step was worked on.
    pub tries: u32,
    /// Those that met the criterion.
    pub met: u32,
    /// Seconds of work on it.
    pub seconds: f64,
    /// Rewarded tries per minute; `None` without time.
    pub rewarded_per_min: Option<f64>,
    /// Median rewarded hold in seconds.
    pub hold_s: Option<f64>,
    /// Median latency in seconds.
    pub latency_s: Option<f64>,
}

impl Level {
    /// The measured value; `None` when nothing of the kind was measured that day.
    pub fn value(&self, measure: Measure) -> Option<f64> {
        match measure {
            Measure::ShareMet => Some(f64::from(self.met) / f64::from(self.tries)),
            Measure::HoldS => self.hold_s,
            Measure::LatencyS => self.latency_s,
        }
    }
}

/// Every session in which a step was worked on, in order of time.
pub fn levels(course: &Course, step: u8) -> Vec<Level> {
    let mut levels = Vec::new();
    for (index, trained) in course.sessions.iter().enumerate() {
        let of_step = |one: &&Placed| one.working == Some(step);
        let tries: Vec<&Placed> = trained.tries.iter().filter(of_step).collect();
        if tries.is_empty() {
            continue;
        }
        let seconds: f64 = tries.iter().map(|one| one.took_s).sum();
        let met = tries.iter().filter(|one| one.met).count();
        let rewarded = tries.iter().filter(|one| one.paid().is_some());
        levels.push(Level {
            session: index,
            version: trained.session.version,
            day: trained.session.day,
            at_days: trained.at_days,
            tries: u32::try_from(tries.len()).unwrap_or(u32::MAX),
            met: u32::try_from(met).unwrap_or(u32::MAX),
            seconds,
            rewarded_per_min: (seconds > 0.0)
                .then(|| rewarded.clone().count() as f64 * 60.0 / seconds),
            hold_s: median(rewarded.filter_map(|one| one.was.duration_s)),
            latency_s: median(tries.iter().filter_map(|one| one.was.latency_s)),
        });
    }
    levels
}

/// Likeness of two tries of one session beyond their common level (beta-binomial scatter, Williams 1982,
/// Appl Stat 31:144; the size is an assumption).
const DAY: f64 = 0.02;
/// This many tries have the weight 1.
const USUAL_TRIES: f64 = 20.0;

/// The measured values as a line is fitted to them, and what each is worth: shares as they are, by their
/// tries; times as logs, so that a change is a part of them. Levels without the measure are left out.
pub(super) fn to_test(levels: &[&Level], measure: Measure) -> (Vec<f64>, Vec<f64>) {
    let scatter = |tries: f64| (1.0 + (tries - 1.0) * DAY) / tries;
    let one = |level: &&Level| {
        let value = level.value(measure)?;
        Some(match measure {
            Measure::ShareMet => (value, scatter(USUAL_TRIES) / scatter(f64::from(level.tries))),
            Measure::HoldS | Measure::LatencyS => (value.max(0.01).ln(), 1.0),
        })
    };
    levels.iter().filter_map(one).unzip()
}

pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    summary::median(&values.collect::<Vec<_>>()).ok()
}
