//! Change of a rate over time, as a factor a week.
//!
//! A straight line through the logarithms is one factor a week: 2 doubles, 0.8 loses a fifth.

use super::summary::{QuantileRule, sorted, sorted_quantile};
use super::tails::student_upper_quantile;
use super::trend::theil_sen;
use super::{Estimate, Level, StatsError, bad, count, measurable, positive, series};

/// Days in a week.
pub const WEEK: f64 = 7.0;

/// A factor as a change in percent: -50 for one half.
///
/// # Errors
/// [`StatsError::Bad`] unless the factor is above zero.
pub fn percent_change(factor: f64) -> Result<f64, StatsError> {
    Ok((positive("the factor", factor)? - 1.0) * 100.0)
}

/// A line of one factor a week.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangeOverTime {
    /// Factor per week, with its interval where the method has one (else it is unbounded: 0 to
    /// infinity).
    pub per_week: Estimate,
    /// The line's rate on day 0.
    pub start: f64,
    /// Highest over lowest ratio of a rate to the line.
    pub spread: f64,
}

/// Least squares on the logs, with Student's interval; unbounded for two points.
///
/// # Errors
/// [`StatsError::TooFew`] below two points; [`StatsError::Bad`] for a rate that is not above
/// zero (it has no logarithm); [`StatsError::Undefined`] when all are of one day;
/// [`StatsError::Lengths`] when the series differ.
pub fn least_squares(
    days: &[f64],
    rates: &[f64],
    level: Level,
) -> Result<ChangeOverTime, StatsError> {
    let logs = checked(days, rates)?;
    let n = days.len() as f64;
    let (day, log) = (days.iter().sum::<f64>() / n, logs.iter().sum::<f64>() / n);
    let sxx: f64 = days.iter().map(|d| (d - day).powi(2)).sum();
    let sxy: f64 = days.iter().zip(&logs).map(|(d, l)| (d - day) * (l - log)).sum();
    let slope = sxy / sxx;
    let intercept = log - slope * day;
    let residual: f64 =
        days.iter().zip(&logs).map(|(d, l)| (l - intercept - slope * d).powi(2)).sum();
    let half = if days.len() > 2 {
        let error = (residual / (n - 2.0) / sxx).sqrt();
        student_upper_quantile(level.tail(), n - 2.0) * error
    } else {
        f64::INFINITY
    };
    Ok(line(days, &logs, slope, intercept, (slope - half, slope + half)))
}

/// Through the median day and the median rate of each half (after White 1971 and Koenig 1972; from
/// memory). With an odd number of points the middle one counts in neither half. It has no interval.
///
/// # Errors
/// As [`least_squares`].
pub fn through_halves(days: &[f64], rates: &[f64]) -> Result<ChangeOverTime, StatsError> {
    let logs = checked(days, rates)?;
    let mut order: Vec<usize> = (0..days.len()).collect();
    order.sort_by(|&i, &j| days[i].total_cmp(&days[j]));
    let half = days.len() / 2;
    let middle = |part: &[usize], of: &[f64]| {
        let values: Vec<f64> = part.iter().map(|&i| of[i]).collect();
        sorted_quantile(&sorted(&values), 0.5, QuantileRule::R7)
    };
    let (early, late) = (&order[..half], &order[days.len() - half..]);
    // The median rate, then its log: between two middle ones that is not the same.
    let point = |part| (middle(part, days), middle(part, rates).log10());
    let ((d1, l1), (d2, l2)) = (point(early), point(late));
    if d1 == d2 {
        return Err(StatsError::Undefined { why: "both halves have one middle day" });
    }
    let slope = (l2 - l1) / (d2 - d1);
    let unbounded = (f64::NEG_INFINITY, f64::INFINITY);
    Ok(line(days, &logs, slope, l1 - slope * d1, unbounded))
}

/// Theil–Sen on the logs: bends little for a few odd days.
///
/// # Errors
/// As [`least_squares`].
pub fn robust(days: &[f64], rates: &[f64], level: Level) -> Result<ChangeOverTime, StatsError> {
    let logs = checked(days, rates)?;
    let fit = theil_sen(days, &logs, level)?;
    let ends = (fit.slope.low, fit.slope.high);
    Ok(line(days, &logs, fit.slope.point, fit.intercept, ends))
}

/// Logs to base 10 of rates above zero.
fn checked(days: &[f64], rates: &[f64]) -> Result<Vec<f64>, StatsError> {
    if days.len() != rates.len() {
        return Err(StatsError::Lengths { left: days.len(), right: rates.len() });
    }
    series("days", days, 2)?;
    if let Some(&zero) = rates.iter().find(|f| !(**f > 0.0 && measurable(**f))) {
        return Err(bad("a rate", "above zero", zero));
    }
    if days.iter().all(|d| *d == days[0]) {
        return Err(StatsError::Undefined { why: "all points are of one day" });
    }
    Ok(rates.iter().map(|f| f.log10()).collect())
}

fn line(
    days: &[f64],
    logs: &[f64],
    slope: f64,
    intercept: f64,
    ends: (f64, f64),
) -> ChangeOverTime {
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for (d, l) in days.iter().zip(logs) {
        let off = l - intercept - slope * d;
        (lowest, highest) = (lowest.min(off), highest.max(off));
    }
    let week = |slope: f64| 10_f64.powf(WEEK * slope);
    ChangeOverTime {
        per_week: Estimate {
            point: week(slope),
            low: week(ends.0),
            high: week(ends.1),
            n: count(days.len()),
        },
        start: 10_f64.powf(intercept),
        spread: 10_f64.powf(highest - lowest),
    }
}
