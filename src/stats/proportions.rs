//! Shares of trials: intervals and exact tests for binomial counts.

use super::tails::{beta_quantile, binomial_at_least, binomial_at_most, binomial_exactly};
use super::{Estimate, Level, StatsError, events, open_share, share};
use statrs::function::factorial::ln_binomial;

fn checked(k: u32, n: u32) -> Result<(), StatsError> {
    if n == 0 {
        return Err(StatsError::TooFew { what: "trials", needed: 1, got: 0 });
    }
    if k > n {
        return Err(StatsError::PartAboveWhole { part: k.into(), whole: n.into() });
    }
    events("the trials", n).map(|_| ())
}

/// The score interval (Wilson 1927, JASA 22:209), without continuity correction.
///
/// # Errors
/// [`StatsError::TooFew`] without trials (the interval is then everything, and the share is
/// undefined: see [`wilson_bounds`]); [`StatsError::PartAboveWhole`] when `k > n`.
pub fn wilson(k: u32, n: u32, level: Level) -> Result<Estimate, StatsError> {
    checked(k, n)?;
    let (low, high) = wilson_bounds(k, n, level)?;
    Ok(Estimate { point: f64::from(k) / f64::from(n), low, high, n })
}

/// Only the ends of [`wilson`]: with no trials at all they are 0 and 1.
///
/// # Errors
/// [`StatsError::PartAboveWhole`] when `k > n`.
pub fn wilson_bounds(k: u32, n: u32, level: Level) -> Result<(f64, f64), StatsError> {
    if n == 0 && k == 0 {
        return Ok((0.0, 1.0));
    }
    checked(k, n)?;
    let z = level.z();
    let (trials, hits, misses) = (f64::from(n), f64::from(k), f64::from(n - k));
    let middle = (hits + z * z / 2.0) / (trials + z * z);
    let half = z / (trials + z * z) * (hits * misses / trials + z * z / 4.0).sqrt();
    let low = if k == 0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if k == n { 1.0 } else { (middle + half).min(1.0) };
    Ok((low, high))
}

/// The exact interval (Clopper & Pearson 1934, Biometrika 26:404).
///
/// # Errors
/// [`StatsError::TooFew`] without trials; [`StatsError::PartAboveWhole`] when `k > n`.
pub fn clopper_pearson(k: u32, n: u32, level: Level) -> Result<Estimate, StatsError> {
    checked(k, n)?;
    let (hits, misses, tail) = (f64::from(k), f64::from(n - k), level.tail());
    let low = if k == 0 { 0.0 } else { beta_quantile(tail, hits, misses + 1.0) };
    let high = if k == n { 1.0 } else { beta_quantile(1.0 - tail, hits + 1.0, misses) };
    Ok(Estimate { point: hits / f64::from(n), low, high, n })
}

/// The smallest run without a miss whose lower limit reaches `goal`: how many reps an honest
/// "at least this good" would need.
///
/// # Errors
/// [`StatsError::Bad`] unless the goal lies between 0 and 1.
pub fn perfect_run_needed(goal: f64, level: Level) -> Result<u32, StatsError> {
    let goal = open_share("the goal", goal)?;
    // Clopper–Pearson at k = n: tail^(1/n) >= goal.
    Ok((level.tail().ln() / goal.ln() - 1e-12).ceil().min(f64::from(u32::MAX)) as u32)
}

/// Tail probabilities of a count of successes against a known chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BinomialTest {
    /// P(X <= k).
    pub p_less: f64,
    /// P(X >= k).
    pub p_greater: f64,
    /// Two-sided, by minimum likelihood, as R and scipy do by default.
    pub p_minlike: f64,
    /// Two-sided, twice the smaller tail: agrees with [`clopper_pearson`].
    pub p_central: f64,
}

/// The exact binomial test of `k` in `n` against chance `p0`. With no trials every p is 1.
///
/// # Errors
/// [`StatsError::PartAboveWhole`] when `k > n`; [`StatsError::Bad`] unless `p0` is from 0 to 1.
pub fn binomial_test(k: u32, n: u32, p0: f64) -> Result<BinomialTest, StatsError> {
    let p0 = share("the chance", p0)?;
    if k > n {
        return Err(StatsError::PartAboveWhole { part: k.into(), whole: n.into() });
    }
    events("the trials", n)?;
    let p_less = binomial_at_most(k, n, p0);
    let p_greater = binomial_at_least(k, n, p0);
    Ok(BinomialTest {
        p_less,
        p_greater,
        p_minlike: binomial_minlike(k, n, p0),
        p_central: (2.0 * p_less.min(p_greater)).min(1.0),
    })
}

/// Left and right compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sides {
    /// (right - left) / (right + left), from -1 to 1; `None` with nothing counted.
    pub index: Option<f64>,
    /// (right - n / 2) / sqrt(n / 4); zero with nothing counted.
    pub z: f64,
    /// Exact two-sided binomial test against one half.
    pub p: f64,
}

/// Compares counts of the two sides: five to nothing is not significant at 0.05, six to nothing is.
///
/// # Errors
/// [`StatsError::Bad`] when there are more than [`MOST_EVENTS`](super::MOST_EVENTS).
pub fn sides(right: u32, left: u32) -> Result<Sides, StatsError> {
    let n = events("both sides together", right.saturating_add(left))?;
    if n == 0 {
        return Ok(Sides { index: None, z: 0.0, p: 1.0 });
    }
    let total = f64::from(n);
    let difference = f64::from(right) - f64::from(left);
    let p = (2.0 * binomial_at_most(right.min(left), n, 0.5)).min(1.0);
    Ok(Sides { index: Some(difference / total), z: difference / total.sqrt(), p })
}

/// First share minus second with the hybrid score interval (Newcombe 1998, Stat Med 17:873,
/// method 10). `n` is the sum of both.
///
/// # Errors
/// As [`wilson`].
pub fn difference(
    first: (u32, u32),
    second: (u32, u32),
    level: Level,
) -> Result<Estimate, StatsError> {
    let a = wilson(first.0, first.1, level)?;
    let b = wilson(second.0, second.1, level)?;
    let point = a.point - b.point;
    Ok(Estimate {
        point,
        low: point - (a.point - a.low).hypot(b.high - b.point),
        high: point + (a.high - a.point).hypot(b.point - b.low),
        n: a.n.saturating_add(b.n),
    })
}

/// Fisher's exact test of a 2×2 table, two-sided by minimum likelihood (Fisher 1935).
///
/// # Errors
/// [`StatsError::TooFew`] for an empty table; [`StatsError::Bad`] for more than
/// [`MOST_EVENTS`](super::MOST_EVENTS).
pub fn fisher_exact(table: [[u32; 2]; 2]) -> Result<f64, StatsError> {
    let [[a, b], [c, d]] = table.map(|row| row.map(u64::from));
    let (row, column, total) = (a + b, a + c, a + b + c + d);
    events("all cells together", u32::try_from(total).unwrap_or(u32::MAX))?;
    if total == 0 {
        return Err(StatsError::TooFew { what: "observations", needed: 1, got: 0 });
    }
    let log_p = |x: u64| {
        ln_binomial(row, x) + ln_binomial(total - row, column - x) - ln_binomial(total, column)
    };
    let here = log_p(a) + 1e-7;
    let (low, high) = ((row + column).saturating_sub(total), row.min(column));
    let sum: f64 = (low..=high).map(log_p).filter(|&p| p <= here).map(f64::exp).sum();
    Ok(sum.min(1.0))
}

/// Two-sided binomial p by minimum likelihood.
pub(crate) fn binomial_minlike(k: u32, n: u32, p: f64) -> f64 {
    let bound = binomial_exactly(k, n, p) * (1.0 + 1e-7);
    let no_likelier = |x: u32| binomial_exactly(x, n, p) <= bound;
    let mean = p * f64::from(n);
    if f64::from(k) < mean {
        // Smallest x above the mean that is not likelier; none gives an empty tail.
        let mut low = mean.floor() as u32;
        let mut high = n + 1;
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if no_likelier(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        (binomial_at_most(k, n, p) + binomial_at_least(high, n, p)).min(1.0)
    } else {
        // Largest x below the mean that is not likelier, if there is one.
        let upper = binomial_at_least(k, n, p);
        if k == 0 || !no_likelier(0) {
            return upper;
        }
        let (mut low, mut high) = (0, (mean.ceil() as u32).min(k));
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if no_likelier(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        (upper + binomial_at_most(low, n, p)).min(1.0)
    }
}
