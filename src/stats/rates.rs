//! Rates of counted events: exact intervals and tests for Poisson counts.

use super::tails::{
    binomial_at_least, binomial_at_most, gamma_quantile, poisson_at_least, poisson_at_most,
    poisson_exactly,
};
use super::{
    Estimate, Level, StatsError, events, expected_count, open_share, positive, proportions,
};

/// Events counted over a stretch of time (or of anything else that can be divided).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// How many events.
    pub count: u32,
    /// Over how much: seconds, minutes, sessions; above zero. Rates come out per this unit.
    pub exposure: f64,
}

impl Counted {
    /// Events per unit of exposure.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the exposure is above zero.
    pub fn rate(self) -> Result<f64, StatsError> {
        Ok(f64::from(self.count) / positive("the time counted over", self.exposure)?)
    }
}

/// The rate with its exact two-sided interval (Garwood 1936, Biometrika 28:437).
///
/// # Errors
/// [`StatsError::Bad`] unless the exposure is above zero.
pub fn garwood(count: u32, exposure: f64, level: Level) -> Result<Estimate, StatsError> {
    let exposure = positive("the time counted over", exposure)?;
    events("the count", count)?;
    let (seen, tail) = (f64::from(count), level.tail());
    let low = if count == 0 { 0.0 } else { gamma_quantile(tail, seen) };
    let high = gamma_quantile(1.0 - tail, seen + 1.0);
    Ok(Estimate { point: seen / exposure, low: low / exposure, high: high / exposure, n: count })
}

/// The least rate above none that a stretch of time can show: one event in it.
///
/// # Errors
/// [`StatsError::Bad`] unless the exposure is above zero.
pub fn least_shown(exposure: f64) -> Result<f64, StatsError> {
    Ok(1.0 / positive("the time counted over", exposure)?)
}

/// The one-sided upper limit of a rate: with nothing seen in t, about 3 / t at 95 % ("rule of three").
///
/// # Errors
/// [`StatsError::Bad`] unless the exposure is above zero.
pub fn rate_below(count: u32, exposure: f64, level: Level) -> Result<f64, StatsError> {
    let exposure = positive("the time counted over", exposure)?;
    events("the count", count)?;
    Ok(gamma_quantile(level.value(), f64::from(count) + 1.0) / exposure)
}

/// Tail probabilities of a count against a mean that is taken as known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountTest {
    /// P(X <= k): the test for "fewer than expected".
    pub p_less: f64,
    /// P(X >= k): the test for "more than expected".
    pub p_greater: f64,
    /// P(X < k) + P(X = k) / 2, less strict than `p_less`.
    pub mid_p_less: f64,
    /// Two-sided, summing all counts that are not likelier. Can disagree with the exact interval.
    pub p_minlike: f64,
    /// Two-sided, twice the smaller tail. Agrees with [`garwood`].
    pub p_central: f64,
}

/// Compares a count with a known mean. A *measured* baseline needs [`compare`] instead, or a prior
/// ([`super::prior::GammaRate`]): treating it as known makes too many drops significant.
///
/// # Errors
/// [`StatsError::Bad`] unless the mean is above zero.
pub fn count_test(observed: u32, expected: f64) -> Result<CountTest, StatsError> {
    let mean = expected_count("the expected count", expected)?;
    events("the count", observed)?;
    let p_less = poisson_at_most(observed, mean);
    let p_greater = poisson_at_least(observed, mean);
    let here = poisson_exactly(observed, mean);
    Ok(CountTest {
        p_less,
        p_greater,
        mid_p_less: (p_less - 0.5 * here).max(0.0),
        p_minlike: minlike(observed, mean, here),
        p_central: (2.0 * p_less.min(p_greater)).min(1.0),
    })
}

/// P(X <= k) for a known mean: the one-sided test for a drop.
///
/// # Errors
/// [`StatsError::Bad`] unless the mean is above zero.
pub fn drop_p(observed: u32, expected: f64) -> Result<f64, StatsError> {
    let mean = expected_count("the expected count", expected)?;
    Ok(poisson_at_most(events("the count", observed)?, mean))
}

/// The largest count whose lower tail is at most `alpha`, with that tail; `None` when even zero
/// events would not be surprising.
///
/// # Errors
/// [`StatsError::Bad`] unless the mean is above zero and `alpha` lies between 0 and 1.
pub fn largest_drop(expected: f64, alpha: f64) -> Result<Option<(u32, f64)>, StatsError> {
    let mean = expected_count("the expected count", expected)?;
    let alpha = open_share("the false alarm chance", alpha)?;
    if poisson_at_most(0, mean) > alpha {
        return Ok(None);
    }
    // The tail grows with k and passes alpha by k = mean at the latest, as alpha < 1 may need more.
    let (mut low, mut high) = (0_u32, 1_u32);
    while high < u32::MAX && poisson_at_most(high, mean) <= alpha {
        low = high;
        high = high.saturating_mul(2);
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if poisson_at_most(middle, mean) <= alpha {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(Some((low, poisson_at_most(low, mean))))
}

/// Two counts compared, given their sum (Przyborowski & Wilenski 1940, Biometrika 31:313).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateComparison {
    /// First rate over second with a Clopper–Pearson type interval; `n` is the sum of both counts.
    /// Infinite when only the second count is zero; `None` when both are.
    pub ratio: Option<Estimate>,
    /// One-sided: the first rate is lower.
    pub p_less: f64,
    /// One-sided: the first rate is higher.
    pub p_greater: f64,
    /// Two-sided, twice the smaller tail. Agrees with the interval of `ratio`: show this one.
    pub p_central: f64,
    /// Two-sided, by minimum likelihood, as R and scipy do by default.
    pub p_minlike: f64,
}

/// Compares the rate of a window with that of a measured baseline.
///
/// # Errors
/// [`StatsError::Bad`] unless both exposures are above zero and the counts together are at most
/// [`MOST_EVENTS`](super::MOST_EVENTS).
pub fn compare(
    first: Counted,
    second: Counted,
    level: Level,
) -> Result<RateComparison, StatsError> {
    let t1 = positive("the first time counted over", first.exposure)?;
    let t2 = positive("the second time counted over", second.exposure)?;
    let n = events("both counts together", first.count.saturating_add(second.count))?;
    if n == 0 {
        let p = 1.0;
        return Ok(RateComparison {
            ratio: None,
            p_less: p,
            p_greater: p,
            p_central: p,
            p_minlike: p,
        });
    }
    let (k, p0) = (first.count, 1.0 / (1.0 + t2 / t1));
    let p_less = binomial_at_most(k, n, p0);
    let p_greater = binomial_at_least(k, n, p0);
    let odds = |p: f64| if p >= 1.0 { f64::INFINITY } else { p / (1.0 - p) * (t2 / t1) };
    let part = proportions::clopper_pearson(k, n, level)?;
    let point = if second.count == 0 {
        f64::INFINITY
    } else {
        f64::from(k) / f64::from(second.count) * (t2 / t1)
    };
    Ok(RateComparison {
        ratio: Some(Estimate { point, low: odds(part.low), high: odds(part.high), n }),
        p_less,
        p_greater,
        p_central: (2.0 * p_less.min(p_greater)).min(1.0),
        p_minlike: proportions::binomial_minlike(k, n, p0),
    })
}

/// Two-sided p by minimum likelihood: this tail, and the part of the other no likelier than `here`.
fn minlike(k: u32, mean: f64, here: f64) -> f64 {
    // The usual guard of R and scipy: equal up to rounding counts as equal.
    let bound = here * (1.0 + 1e-7);
    let no_likelier = |x: u32| poisson_exactly(x, mean) <= bound;
    if f64::from(k) < mean {
        // Smallest x above the mean that is not likelier.
        let (mut low, mut high) = (mean as u32, (mean as u32).saturating_add(1));
        let mut stride = 1_u32;
        while !no_likelier(high) && high < u32::MAX {
            low = high;
            stride = stride.saturating_mul(2);
            high = high.saturating_add(stride);
        }
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if no_likelier(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        (poisson_at_most(k, mean) + poisson_at_least(high, mean)).min(1.0)
    } else {
        // Largest x below the mean that is not likelier, if there is one.
        let top = (mean.ceil() as u32).min(k);
        let upper = poisson_at_least(k, mean);
        if !no_likelier(0) {
            return upper;
        }
        let (mut low, mut high) = (0_u32, top);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if no_likelier(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        if k == 0 { 1.0 } else { (upper + poisson_at_most(low, mean)).min(1.0) }
    }
}
