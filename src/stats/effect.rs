//! Did a change of the plan change the behaviour: non-overlap between two phases.
//!
//! Both measures treat the values of a phase as independent; sessions of one animal seldom are, so
//! the intervals are narrower than they should be. Say so beside them.

use super::percentile::Better;
use super::tails::{invert, normal_two_sided};
use super::trend::{kendall_s, kendall_variance, tie_groups};
use super::{Estimate, Level, StatsError, count, series};

/// Non-overlap of all pairs (Parker & Vannest 2009, Behav Ther 40:357): the chance that a value of
/// the second phase is better than one of the first, ties counted half. One half means no effect. The
/// interval is the symmetrised score interval (Newcombe 2006, Stat Med 25:559, method 5). `n` is
/// the number of values.
///
/// # Errors
/// [`StatsError::TooFew`] when a phase is empty; [`StatsError::Bad`] for values not finite.
pub fn non_overlap(
    before: &[f64],
    after: &[f64],
    better: Better,
    level: Level,
) -> Result<Estimate, StatsError> {
    let (before, after) = phases(before, after, better)?;
    let half_wins: u64 = before
        .iter()
        .map(|a| after.iter().map(|b| u64::from(b > a) + u64::from(b >= a)).sum::<u64>())
        .sum();
    let (m, n) = (before.len() as f64, after.len() as f64);
    let point = half_wins as f64 / (2.0 * m * n);
    let (h, z) = ((m + n) / 2.0 - 1.0, level.z());
    // Squared distance from the estimate over z² times the variance at x, less 1; in a form without
    // a division by x (1 - x), which is zero at the ends.
    let misfit = |x: f64| {
        let spread = x * (1.0 - x);
        m * n * (point - x).powi(2) * (2.0 - x) * (1.0 + x)
            - z * z * spread * (2.0 + h + (1.0 + 2.0 * h) * spread)
    };
    let halve = |_: f64| 0.0; // no slope: invert by halving
    let low = if point <= 0.0 {
        0.0
    } else {
        invert(0.0, 0.0, point, point / 2.0, |x| -misfit(x), halve)
    };
    let high = if point >= 1.0 {
        1.0
    } else {
        invert(0.0, point, 1.0, (point + 1.0) / 2.0, misfit, halve)
    };
    Ok(Estimate { point, low, high, n: count(before.len() + after.len()) })
}

/// Tau-U of two phases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TauU {
    /// The index with its normal interval; `n` is the number of values.
    pub tau: Estimate,
    /// Better minus worse pairs, less the trend of the first phase where corrected.
    pub s: i64,
    /// Two-sided p against no effect and no trend.
    pub p: f64,
}

/// Tau-U (Parker, Vannest, Davis & Sauber 2011, Behav Ther 42:284). With `correct_trend` the trend
/// of the first phase is taken off: better minus worse pairs between the phases, minus rising plus
/// falling pairs within the first, over the number of pairs between them. It can then leave -1 to 1
/// (Tarlow 2017 warns of that). The interval uses the variance of S without effect, ties allowed
/// for; it is a little wide when the effect is large.
///
/// # Errors
/// [`StatsError::TooFew`] when a phase is empty; [`StatsError::Bad`] for values not finite.
pub fn tau_u(
    before: &[f64],
    after: &[f64],
    better: Better,
    correct_trend: bool,
    level: Level,
) -> Result<TauU, StatsError> {
    let (before, after) = phases(before, after, better)?;
    let (m, n) = (before.len(), after.len());
    let values: Vec<f64> = before.iter().chain(&after).copied().collect();
    // A trend taken off is a trend in reversed order; without the correction all of the first
    // phase counts as one time. The second phase is one time in both.
    let times: Vec<f64> = (0..m)
        .map(|i| if correct_trend { -(i as f64) } else { 0.0 })
        .chain(std::iter::repeat_n(1.0, n))
        .collect();
    let s = kendall_s(&times, &values);
    let var = kendall_variance(m + n, &tie_groups(&times), &tie_groups(&values));
    let pairs = (m * n) as f64;
    let (point, half) = (s as f64 / pairs, level.z() * var.sqrt() / pairs);
    let p = if var > 0.0 { normal_two_sided(s as f64 / var.sqrt()) } else { 1.0 };
    let tau = Estimate { point, low: point - half, high: point + half, n: count(m + n) };
    Ok(TauU { tau, s, p })
}

/// Both phases, signed so that higher is better.
fn phases(
    before: &[f64],
    after: &[f64],
    better: Better,
) -> Result<(Vec<f64>, Vec<f64>), StatsError> {
    series("values before", before, 1)?;
    series("values after", after, 1)?;
    let sign = if better == Better::Higher { 1.0 } else { -1.0 };
    let signed = |x: &[f64]| x.iter().map(|v| sign * v).collect();
    Ok((signed(before), signed(after)))
}
