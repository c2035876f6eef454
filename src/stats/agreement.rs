//! Do two observers see the same: count indices over intervals, durations, Cohen's kappa.
//!
//! Percentages are from 0 to 100. What is 0 of 0 is `None`: two people who scored nothing have not
//! shown that they agree.

use super::{Estimate, Level, StatsError, bad, count, measurable};

/// Indices of agreement of counts per interval (Cooper, Heron & Heward; Reed & Azulay 2011, Behav
/// Anal Pract 4:45).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountAgreement {
    /// Smaller total over larger; `None` when both are zero.
    pub total_count: Option<f64>,
    /// Mean over intervals of smaller count over larger; an interval that both score 0 is 100.
    pub mean_count_per_interval: f64,
    /// Intervals with equal counts.
    pub exact_count_per_interval: f64,
    /// Intervals that both scored, or neither.
    pub interval_by_interval: f64,
    /// Of the intervals that at least one scored, those that both did; `None` when none.
    pub scored_interval: Option<f64>,
    /// Of the intervals that at least one left empty, those that both did; `None` when none.
    pub unscored_interval: Option<f64>,
    /// How many intervals.
    pub intervals: u32,
}

/// Compares the counts of two observers, interval by interval.
///
/// # Errors
/// [`StatsError::TooFew`] without an interval; [`StatsError::Lengths`] when they differ in number.
pub fn counts(first: &[u32], second: &[u32]) -> Result<CountAgreement, StatsError> {
    if first.len() != second.len() {
        return Err(StatsError::Lengths { left: first.len(), right: second.len() });
    }
    if first.is_empty() {
        return Err(StatsError::TooFew { what: "intervals", needed: 1, got: 0 });
    }
    let n = first.len() as f64;
    let pairs = || first.iter().copied().zip(second.iter().copied());
    let total = |x: &[u32]| x.iter().map(|&c| u64::from(c)).sum::<u64>() as f64;
    let (a, b) = (total(first), total(second));
    let share = |part: usize, whole: usize| (whole > 0).then(|| 100.0 * part as f64 / whole as f64);
    let how_many = |test: fn((u32, u32)) -> bool| pairs().filter(|&p| test(p)).count();
    let both = how_many(|(a, b)| a > 0 && b > 0);
    let neither = how_many(|(a, b)| a == 0 && b == 0);
    let equal = how_many(|(a, b)| a == b);
    let ratios: f64 = pairs()
        .map(|(a, b)| if a == b { 1.0 } else { f64::from(a.min(b)) / f64::from(a.max(b)) })
        .sum();
    Ok(CountAgreement {
        total_count: (a.max(b) > 0.0).then(|| 100.0 * a.min(b) / a.max(b)),
        mean_count_per_interval: 100.0 * ratios / n,
        exact_count_per_interval: 100.0 * equal as f64 / n,
        interval_by_interval: 100.0 * (both + neither) as f64 / n,
        scored_interval: share(both, first.len() - neither),
        unscored_interval: share(neither, first.len() - both),
        intervals: count(first.len()),
    })
}

/// Smaller duration over larger, in percent; `None` when both are zero.
///
/// # Errors
/// [`StatsError::Bad`] for a duration below zero or not finite.
pub fn duration(first: f64, second: f64) -> Result<Option<f64>, StatsError> {
    for d in [first, second] {
        if !(d >= 0.0 && measurable(d)) {
            return Err(bad("a duration", "zero or more", d));
        }
    }
    let longer = first.max(second);
    Ok((longer > 0.0).then(|| 100.0 * first.min(second) / longer))
}

/// Mean duration-per-occurrence agreement of matched occurrences, in percent; pairs that are both
/// zero say nothing and are left out. `None` when no pair is left.
///
/// # Errors
/// [`StatsError::Bad`] as [`duration`].
pub fn mean_duration(pairs: &[(f64, f64)]) -> Result<Option<f64>, StatsError> {
    let each: Result<Vec<_>, _> = pairs.iter().map(|&(a, b)| duration(a, b)).collect();
    let known: Vec<f64> = each?.into_iter().flatten().collect();
    Ok((!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64))
}

/// Agreement beyond chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// Kappa with its normal interval, kept within -1 to 1; `n` is the number of pairs.
    pub kappa: Estimate,
    /// Standard error for the interval.
    pub se: f64,
    /// Standard error if there were no agreement beyond chance; for a test against zero.
    pub se_null: f64,
    /// Share of pairs that agree.
    pub observed: f64,
    /// Share that would by chance.
    pub expected: f64,
}

/// Cohen's kappa of a square table, rows one observer, columns the other (Cohen 1960), with the
/// large-sample errors of Fleiss, Cohen & Everitt (1969, Psychol Bull 72:323).
///
/// # Errors
/// [`StatsError::TooFew`] for an empty table or a single category; [`StatsError::Lengths`] unless it
/// is square; [`StatsError::Undefined`] when both observers used one and the same category only.
pub fn kappa(table: &[Vec<u32>], level: Level) -> Result<Kappa, StatsError> {
    let (share, row, column, total) = margins(table)?;
    let k = row.len();
    let observed: f64 = (0..k).map(|i| share[i][i]).sum();
    let expected: f64 = (0..k).map(|i| row[i] * column[i]).sum();
    if 1.0 - expected < 1e-12 {
        return Err(StatsError::Undefined { why: "both observers used a single category" });
    }
    let room = 1.0 - expected;
    let point = (observed - expected) / room;
    let agree: f64 =
        (0..k).map(|i| share[i][i] * (1.0 - (row[i] + column[i]) * (1.0 - point)).powi(2)).sum();
    let differ: f64 = (0..k)
        .flat_map(|i| (0..k).map(move |j| (i, j)))
        .filter(|(i, j)| i != j)
        .map(|(i, j)| share[i][j] * (column[i] + row[j]).powi(2))
        .sum();
    let away = point - expected * (1.0 - point);
    let var = (agree + (1.0 - point).powi(2) * differ - away * away) / (room * room * total);
    let cross: f64 = (0..k).map(|i| row[i] * column[i] * (row[i] + column[i])).sum();
    let var_null = (expected + expected * expected - cross) / (room * room * total);
    let (se, se_null) = (var.max(0.0).sqrt(), var_null.max(0.0).sqrt());
    let half = level.z() * se;
    Ok(Kappa {
        kappa: Estimate {
            point,
            low: (point - half).max(-1.0),
            high: (point + half).min(1.0),
            n: total as u32,
        },
        se,
        se_null,
        observed,
        expected,
    })
}

/// Gwet's AC1, steadier than kappa when nearly all pairs fall into one category (Gwet 2008, Br J
/// Math Stat Psychol 61:29).
///
/// # Errors
/// [`StatsError::TooFew`] for an empty table or a single category; [`StatsError::Lengths`] unless it
/// is square.
pub fn ac1(table: &[Vec<u32>]) -> Result<f64, StatsError> {
    let (share, row, column, _) = margins(table)?;
    let k = row.len();
    let observed: f64 = (0..k).map(|i| share[i][i]).sum();
    let spread: f64 = (0..k)
        .map(|i| {
            let mean = (row[i] + column[i]) / 2.0;
            mean * (1.0 - mean)
        })
        .sum();
    let expected = spread / (k - 1) as f64;
    Ok((observed - expected) / (1.0 - expected))
}

type Margins = (Vec<Vec<f64>>, Vec<f64>, Vec<f64>, f64);

/// Shares, row sums, column sums and the total.
fn margins(table: &[Vec<u32>]) -> Result<Margins, StatsError> {
    let k = table.len();
    if k < 2 {
        return Err(StatsError::TooFew { what: "categories", needed: 2, got: k });
    }
    if let Some(odd) = table.iter().find(|row| row.len() != k) {
        return Err(StatsError::Lengths { left: k, right: odd.len() });
    }
    let total: f64 = table.iter().flatten().map(|&c| f64::from(c)).sum();
    if total <= 0.0 {
        return Err(StatsError::TooFew { what: "pairs", needed: 1, got: 0 });
    }
    let share: Vec<Vec<f64>> =
        table.iter().map(|row| row.iter().map(|&c| f64::from(c) / total).collect()).collect();
    let row = share.iter().map(|r| r.iter().sum()).collect();
    let column = (0..k).map(|j| share.iter().map(|r| r[j]).sum()).collect();
    Ok((share, row, column, total))
}
