//! How many sessions a step of this animal takes, and whether the present one takes longer.

use serde::Serialize;

use super::super::Found;
use super::super::course::Course;
use super::super::level::levels;
use crate::plan::Advice;
use crate::stats::{Estimate, count, student_upper_quantile};

/// Fewer learnt steps than this have no usual.
const LEAST_STEPS: usize = 3;
/// Steps differ by at least this much (scatter of the logs; an assumption), however alike a few were.
const LEAST_SCATTER: f64 = 0.25;

/// Sessions to the criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ToCriterion {
    /// Sessions that each learnt step took, in the order of the plan.
    pub took: Vec<u32>,
    /// Sessions that one more step will take: middle and 95 % prediction interval.
    pub usual: Found<Estimate>,
    /// Sessions on the present step so far; `None` when it reached the criterion already.
    pub so_far: Option<u32>,
    /// The present step has taken longer than the interval allows.
    pub beyond: bool,
}

pub(super) fn of(course: &Course, advice: &Advice) -> ToCriterion {
    let sessions = |step: u8| {
        let levels = levels(course, step);
        let reached = levels.iter().position(|level| {
            level.tries >= advice.tries
                && f64::from(level.met) >= advice.raise_at * f64::from(level.tries)
        });
        (reached.map(|index| count(index + 1)), count(levels.len()))
    };
    let took: Vec<u32> = course.numbers().filter_map(|step| sessions(step).0).collect();
    let usual = usual(&took);
    let so_far = course.working().and_then(|step| match sessions(step) {
        (None, so_far) if so_far > 0 => Some(so_far),
        _ => None,
    });
    let beyond = usual.known().zip(so_far).is_some_and(|(u, so_far)| f64::from(so_far) > u.high);
    ToCriterion { took, usual, so_far, beyond }
}

/// Prediction interval of one more value whose log is normal (Geisser 1993, Predictive Inference, section
/// 2.2, from memory: Student's t with one degree of freedom less than steps).
fn usual(took: &[u32]) -> Found<Estimate> {
    if took.len() < LEAST_STEPS {
        return Found::needs(LEAST_STEPS, took.len(), "learnt steps");
    }
    let n = took.len() as f64;
    let logs: Vec<f64> = took.iter().map(|t| f64::from(*t).ln()).collect();
    let mean = logs.iter().sum::<f64>() / n;
    let scatter = (logs.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let half = student_upper_quantile(0.025, n - 1.0)
        * scatter.max(LEAST_SCATTER)
        * (1.0 + 1.0 / n).sqrt();
    Found::Known(Estimate {
        point: mean.exp(),
        low: (mean - half).exp().max(1.0),
        high: (mean + half).exp(),
        n: count(took.len()),
    })
}
