//! Is there a trend over sessions: Mann–Kendall test, Theil–Sen slope.

use super::summary::{QuantileRule, sorted_quantile};
use super::tails::normal_two_sided;
use super::{Estimate, Level, StatsError, count, series};

/// Which way a series goes, as far as a test can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Rising.
    Up,
    /// Falling.
    Down,
    /// No trend shown.
    Unclear,
}

/// The Mann–Kendall test (Mann 1945, Econometrica 13:245; Kendall 1975).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Rising pairs minus falling pairs.
    pub s: i64,
    /// Variance of S without a trend, ties in values and times allowed for.
    pub var: f64,
    /// Normal score with continuity correction; 0 when S is, or when nothing varies.
    pub z: f64,
    /// Two-sided p of `z`.
    pub p_normal: f64,
    /// Two-sided exact p, for up to [`MOST_EXACT`] values without ties.
    pub p_exact: Option<f64>,
    /// How many values.
    pub n: u32,
}

/// Series up to this length get an exact p.
pub const MOST_EXACT: usize = 10;

impl MannKendall {
    /// The p to quote: exact where there is one.
    pub fn p(&self) -> f64 {
        self.p_exact.unwrap_or(self.p_normal)
    }

    /// The direction at a two-sided `alpha`.
    pub fn direction(&self, alpha: f64) -> Direction {
        match self.s {
            s if s > 0 && self.p() < alpha => Direction::Up,
            s if s < 0 && self.p() < alpha => Direction::Down,
            _ => Direction::Unclear,
        }
    }
}

/// Tests values in order of time, one at each time.
///
/// # Errors
/// [`StatsError::TooFew`] below two values; [`StatsError::Bad`] for values not finite.
pub fn mann_kendall(x: &[f64]) -> Result<MannKendall, StatsError> {
    let times: Vec<f64> = (0..x.len()).map(|i| i as f64).collect();
    mann_kendall_at(&times, x)
}

/// Tests values at given times, several at one time allowed: they are then not compared with each
/// other (Gilbert 1987, section 16.4.3; van Belle & Hughes 1984).
///
/// # Errors
/// As [`mann_kendall`]; [`StatsError::Lengths`] when the series differ.
pub fn mann_kendall_at(times: &[f64], x: &[f64]) -> Result<MannKendall, StatsError> {
    if times.len() != x.len() {
        return Err(StatsError::Lengths { left: times.len(), right: x.len() });
    }
    series("values", x, 2)?;
    series("times", times, 2)?;
    let s = kendall_s(times, x);
    let (tied_times, tied_values) = (tie_groups(times), tie_groups(x));
    let n = x.len();
    let var = kendall_variance(n, &tied_times, &tied_values);
    let z = if s == 0 || var <= 0.0 { 0.0 } else { (s as f64 - s.signum() as f64) / var.sqrt() };
    let ties = tied_times.iter().chain(&tied_values).any(|&t| t > 1.0);
    let p_exact =
        (n <= MOST_EXACT && !ties).then(|| (2.0 * kendall_upper_tail(n, s.abs())).min(1.0));
    Ok(MannKendall { s, var, z, p_normal: normal_two_sided(z), p_exact, n: count(n) })
}

/// Rising minus falling pairs; pairs tied in either count nothing.
pub(crate) fn kendall_s(times: &[f64], x: &[f64]) -> i64 {
    let sign = |a: f64, b: f64| i64::from(b > a) - i64::from(b < a);
    let mut s = 0;
    for j in 1..x.len() {
        s += (0..j).map(|i| sign(times[i], times[j]) * sign(x[i], x[j])).sum::<i64>();
    }
    s
}

/// Sizes of the groups of equal values, single ones included.
pub(crate) fn tie_groups(x: &[f64]) -> Vec<f64> {
    super::summary::sorted(x).chunk_by(|a, b| a == b).map(|group| group.len() as f64).collect()
}

/// Variance of S with ties in both series (Kendall 1975; Gilbert 1987 eq. 16.7).
pub(crate) fn kendall_variance(n: usize, times: &[f64], values: &[f64]) -> f64 {
    let n = n as f64;
    let sum = |groups: &[f64], f: fn(f64) -> f64| groups.iter().map(|&t| f(t)).sum::<f64>();
    let pairs: fn(f64) -> f64 = |t| t * (t - 1.0);
    let triples: fn(f64) -> f64 = |t| t * (t - 1.0) * (t - 2.0);
    let spread: fn(f64) -> f64 = |t| t * (t - 1.0) * (2.0 * t + 5.0);
    let mut var = (spread(n) - sum(times, spread) - sum(values, spread)) / 18.0;
    var += sum(times, pairs) * sum(values, pairs) / (2.0 * pairs(n));
    if n > 2.0 {
        var += sum(times, triples) * sum(values, triples) / (9.0 * triples(n));
    }
    var.max(0.0)
}

/// P(S >= s) for `n` values in random order without ties, exact: the count of inversions.
///
/// For `n` above 150 the counts leave the range of a double; the chance is then that of 150.
pub fn kendall_upper_tail(n: usize, s: i64) -> f64 {
    let n = n.min(150);
    // chance[q]: that a random order has q falling pairs. S = pairs - 2 q.
    let mut chance = vec![1.0];
    for i in 2..=n {
        let old = chance.len();
        let mut next = vec![0.0; old + i - 1];
        for (q, p) in chance.iter().enumerate() {
            for step in 0..i {
                next[q + step] += p / i as f64;
            }
        }
        chance = next;
    }
    let pairs = (n * n.saturating_sub(1) / 2) as i64;
    let sum: f64 =
        chance.iter().enumerate().filter(|(q, _)| pairs - 2 * *q as i64 >= s).map(|(_, p)| p).sum();
    sum.min(1.0)
}

/// The Theil–Sen line: the median slope of all pairs at different times.
#[derive(Debug, Clone, PartialEq)]
pub struct TheilSen {
    /// Slope per unit of time, with Sen's interval.
    pub slope: Estimate,
    /// Median value minus slope times median time.
    pub intercept: f64,
    /// All pairwise slopes, rising.
    pub slopes: Vec<f64>,
}

/// Fits the line (Theil 1950; Sen 1968, JASA 63:1379, for the interval with ties).
///
/// Quadratic in the number of values, in time and memory: meant for hundreds of sessions.
///
/// # Errors
/// [`StatsError::TooFew`] below two values; [`StatsError::Lengths`] when the series differ;
/// [`StatsError::Undefined`] when all times are equal.
pub fn theil_sen(times: &[f64], x: &[f64], level: Level) -> Result<TheilSen, StatsError> {
    if times.len() != x.len() {
        return Err(StatsError::Lengths { left: times.len(), right: x.len() });
    }
    series("values", x, 2)?;
    series("times", times, 2)?;
    let mut slopes = Vec::with_capacity(x.len() * (x.len() - 1) / 2);
    for j in 1..x.len() {
        for i in 0..j {
            let run = times[j] - times[i];
            if run != 0.0 {
                slopes.push((x[j] - x[i]) / run);
            }
        }
    }
    if slopes.is_empty() {
        return Err(StatsError::Undefined { why: "all values are of one time" });
    }
    slopes.sort_by(f64::total_cmp);
    let middle = |v: &[f64]| sorted_quantile(v, 0.5, QuantileRule::R7);
    let point = middle(&slopes);
    let intercept =
        middle(&super::summary::sorted(x)) - point * middle(&super::summary::sorted(times));
    // Without the product terms of the test: the variance that Sen's interval is defined with.
    let spread = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let ties: f64 = tie_groups(times).iter().chain(&tie_groups(x)).map(|&t| spread(t)).sum();
    let sigma = ((spread(x.len() as f64) - ties) / 18.0).max(0.0).sqrt();
    let (pairs, reach) = (slopes.len() as f64, level.z() * sigma);
    let last = slopes.len() - 1;
    let upper = ((pairs + reach) / 2.0).round_ties_even().min(last as f64) as usize;
    let lower = (((pairs - reach) / 2.0).round_ties_even() - 1.0).max(0.0) as usize;
    let slope = Estimate { point, low: slopes[lower], high: slopes[upper], n: count(x.len()) };
    Ok(TheilSen { slope, intercept, slopes })
}
