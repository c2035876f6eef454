//! Summaries of a handful of times: quantiles, median, spread on the plain and on the log scale.

use super::tails::student_upper_quantile;
use super::{Estimate, Level, StatsError, bad, count, open_share, series, share};

/// The sample quantile rules of Hyndman & Fan (1996, Am Stat 50:361) that are in common use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuantileRule {
    /// Weibull: p (n + 1), as SPSS and NIST.
    R6,
    /// Linear between first and last, as numpy and spreadsheets.
    R7,
    /// Nearly unbiased for the median; the one Hyndman & Fan advise.
    R8,
}

/// The quantile at `p` of values in any order.
///
/// # Errors
/// [`StatsError::TooFew`] for no value; [`StatsError::Bad`] for values that are not finite or a
/// share outside 0 to 1.
pub fn quantile(x: &[f64], p: f64, rule: QuantileRule) -> Result<f64, StatsError> {
    series("values", x, 1)?;
    let p = share("the share below", p)?;
    Ok(sorted_quantile(&sorted(x), p, rule))
}

/// The median.
///
/// # Errors
/// As [`quantile`].
pub fn median(x: &[f64]) -> Result<f64, StatsError> {
    quantile(x, 0.5, QuantileRule::R7)
}

/// The median distance from the median, not scaled.
///
/// # Errors
/// As [`quantile`].
pub fn mad(x: &[f64]) -> Result<f64, StatsError> {
    let middle = median(x)?;
    let away: Vec<f64> = x.iter().map(|v| (v - middle).abs()).collect();
    median(&away)
}

/// The mean, by a sum of deviations so that large offsets lose nothing.
///
/// # Errors
/// As [`quantile`].
pub fn mean(x: &[f64]) -> Result<f64, StatsError> {
    series("values", x, 1)?;
    let n = x.len() as f64;
    let rough = x.iter().map(|v| v / n).sum::<f64>();
    Ok(rough + x.iter().map(|v| (v - rough) / n).sum::<f64>())
}

/// The sample standard deviation, with n - 1.
///
/// # Errors
/// [`StatsError::TooFew`] below two values: it is then undefined, not zero.
pub fn sd(x: &[f64]) -> Result<f64, StatsError> {
    series("values", x, 2)?;
    let middle = mean(x)?;
    let squares: f64 = x.iter().map(|v| (v - middle).powi(2)).sum();
    Ok((squares / (x.len() - 1) as f64).sqrt())
}

/// The geometric mean.
///
/// # Errors
/// [`StatsError::TooFew`] for no value; [`StatsError::Bad`] unless all are above zero.
pub fn geometric_mean(x: &[f64]) -> Result<f64, StatsError> {
    Ok(mean(&logs(x)?)?.exp())
}

/// The geometric standard deviation, a factor of at least 1.
///
/// # Errors
/// [`StatsError::TooFew`] below two values; [`StatsError::Bad`] unless all are above zero.
pub fn geometric_sd(x: &[f64]) -> Result<f64, StatsError> {
    Ok(sd(&logs(x)?)?.exp())
}

/// The natural logs of values above zero.
///
/// # Errors
/// [`StatsError::Bad`] unless all are above zero.
pub fn logs(x: &[f64]) -> Result<Vec<f64>, StatsError> {
    match x.iter().find(|v| !(**v > 0.0 && super::measurable(**v))) {
        Some(&v) => Err(bad("values on a log scale", "above zero", v)),
        None => Ok(x.iter().map(|v| v.ln()).collect()),
    }
}

/// Grubbs' one-sided test of the largest value (Grubbs 1969; NIST/SEMATECH e-Handbook
/// 1.3.5.17.1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grubbs {
    /// (largest - mean) / sd.
    pub g: f64,
    /// The value that `g` exceeds by chance alone with chance alpha.
    pub critical: f64,
}

/// Whether the largest value is an outlier.
///
/// # Errors
/// [`StatsError::TooFew`] below three values; [`StatsError::Undefined`] when all are equal;
/// [`StatsError::Bad`] unless alpha lies between 0 and 1.
pub fn grubbs_largest(x: &[f64], alpha: f64) -> Result<Grubbs, StatsError> {
    series("values", x, 3)?;
    let alpha = open_share("the false alarm chance", alpha)?;
    let (middle, spread) = (mean(x)?, sd(x)?);
    if spread <= 0.0 {
        return Err(StatsError::Undefined { why: "all values are equal" });
    }
    let n = x.len() as f64;
    let largest = x.iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b));
    let t = student_upper_quantile((alpha / n).min(0.5), n - 2.0);
    let critical = (n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt();
    Ok(Grubbs { g: (largest - middle) / spread, critical })
}

/// The modified z score 0.6745 (value - median) / MAD; beyond 3.5 is an outlier (Iglewicz &
/// Hoaglin 1993).
///
/// # Errors
/// [`StatsError::Undefined`] when more than half of the values are equal, as the MAD is then zero.
pub fn modified_z(x: &[f64], value: f64) -> Result<f64, StatsError> {
    let (middle, spread) = (median(x)?, mad(x)?);
    if spread <= 0.0 {
        return Err(StatsError::Undefined { why: "half of the values are equal" });
    }
    Ok(0.6745 * (super::finite("the value", value)? - middle) / spread)
}

/// A distribution-free interval of the median from order statistics: at least the wanted level.
///
/// # Errors
/// [`StatsError::TooFew`] when even the extremes do not reach the level, with how many would.
pub fn median_interval(x: &[f64], level: Level) -> Result<Estimate, StatsError> {
    // Both extremes cover the median with chance 1 - 2^(1-n).
    let needed = (1.0 - (1.0 - level.value()).log2()).ceil() as usize;
    series("values", x, needed)?;
    let (sorted, n) = (sorted(x), x.len());
    let trials = count(n);
    let mut depth = 0;
    while super::tails::binomial_at_most(depth, trials, 0.5) <= level.tail() {
        depth += 1;
    }
    // At least the extremes, whatever rounding says.
    let depth = depth.max(1) as usize;
    let (low, high) = (sorted[depth - 1], sorted[n - depth]);
    Ok(Estimate { point: sorted_quantile(&sorted, 0.5, QuantileRule::R7), low, high, n: trials })
}

pub(crate) fn sorted(x: &[f64]) -> Vec<f64> {
    let mut copy = x.to_vec();
    copy.sort_by(f64::total_cmp);
    copy
}

/// The quantile of values already in order; at least one.
pub(crate) fn sorted_quantile(sorted: &[f64], p: f64, rule: QuantileRule) -> f64 {
    let n = sorted.len() as f64;
    let place = match rule {
        QuantileRule::R6 => p * (n + 1.0),
        QuantileRule::R7 => 1.0 + p * (n - 1.0),
        QuantileRule::R8 => p * (n + 1.0 / 3.0) + 1.0 / 3.0,
    }
    .clamp(1.0, n);
    // Rounding must not turn a whole place into the one below.
    let whole = (place + 4.0 * f64::EPSILON * place).floor();
    let part = (place - whole).max(0.0);
    let low = sorted[whole as usize - 1];
    match sorted.get(whole as usize) {
        Some(high) if part > 0.0 => low + part * (high - low),
        _ => low,
    }
}
