//! Tests that ask only what else the lot, or the order, could have brought: every other outcome is gone
//! through, so that p is exact also for a few values with ties.

use super::summary::sorted;
use super::{StatsError, bad, series};

/// Most values for which every division into two samples is counted.
pub const MOST_EXACT: usize = 60;

/// Two-sided p that the second sample lies as far from the first, by the sum of its ranks, when any
/// division of the values into samples of these sizes is as likely (the Wilcoxon rank-sum test by its
/// permutation distribution, ties at their middle rank; Lehmann 1975, Nonparametrics, chapter 1).
///
/// # Errors
/// [`StatsError::TooFew`] when a sample is empty; [`StatsError::Bad`] for values not finite, or more
/// than [`MOST_EXACT`] of them.
pub fn rank_sum(first: &[f64], second: &[f64]) -> Result<f64, StatsError> {
    series("values", first, 1)?;
    series("values", second, 1)?;
    let all: Vec<f64> = first.iter().chain(second).copied().collect();
    if all.len() > MOST_EXACT {
        return Err(bad("the number of values", "at most 60", all.len() as f64));
    }
    let order = sorted(&all);
    // Twice the middle rank, so that ties stay whole numbers.
    let rank = |x: &f64| {
        let below = order.partition_point(|y| y < x);
        let upto = order.partition_point(|y| y <= x);
        below + upto + 1
    };
    let ranks: Vec<usize> = all.iter().map(rank).collect();
    let most: usize = ranks.iter().sum();
    let size = second.len();
    // ways[k][s]: how many choices of k values have ranks that add up to s.
    let mut ways = vec![vec![0.0; most + 1]; size + 1];
    ways[0][0] = 1.0;
    for rank in &ranks {
        for k in (1..=size).rev() {
            for s in (*rank..=most).rev() {
                ways[k][s] += ways[k - 1][s - rank];
            }
        }
    }
    let observed: usize = ranks[first.len()..].iter().sum();
    // Four times the distance from the mean sum, a whole number.
    let off = |s: usize| (2 * s * all.len()).abs_diff(2 * most * size);
    let (mut as_far, mut total) = (0.0, 0.0);
    for (s, ways) in ways[size].iter().enumerate() {
        total += ways;
        if off(s) >= off(observed) {
            as_far += ways;
        }
    }
    Ok(as_far / total)
}

/// What a change did whose moment was drawn by lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartByLot {
    /// Mean after the change minus mean before it.
    pub difference: f64,
    /// Share of the moments that the lot could have brought with a difference as large, either way.
    pub p: f64,
    /// How many moments those were: p is never below 1 over it.
    pub moments: usize,
}

/// Tests a change made before value `change` (counted from 0), a place drawn from `lot`, each as likely
/// (randomisation test of a single case: Edgington 1975, J Psychol 90:57; Bulté & Onghena 2008, Behav
/// Res Methods 40:467). Valid however the values depend on each other, with a trend or without.
///
/// # Errors
/// [`StatsError::Bad`] when the change was not in the lot, or the lot leaves no value before or after;
/// and for values not finite.
pub fn start_by_lot(
    values: &[f64],
    change: usize,
    lot: std::ops::RangeInclusive<usize>,
) -> Result<StartByLot, StatsError> {
    series("values", values, 2)?;
    if !lot.contains(&change) {
        return Err(bad("the change", "one of the places of the lot", change as f64));
    }
    if *lot.start() == 0 || *lot.end() >= values.len() {
        return Err(bad("the lot", "between the first and the last value", *lot.end() as f64));
    }
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let difference = |at: usize| mean(&values[at..]) - mean(&values[..at]);
    let observed = difference(change);
    let near = 1e-9 * (1.0 + observed.abs());
    let moments = lot.clone().count();
    let as_large = lot.filter(|at| difference(*at).abs() >= observed.abs() - near).count();
    Ok(StartByLot { difference: observed, p: as_large as f64 / moments as f64, moments })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rank_sums_are_exact_with_ties_and_without() {
        // 3 and 3 values without ties: of 20 divisions only the two extremes are as far (by hand).
        assert!((rank_sum(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0]).unwrap() - 0.1).abs() < 1e-12);
        assert!((rank_sum(&[2.0; 4], &[2.0; 4]).unwrap() - 1.0).abs() < 1e-12);
        // 0, 0 against 0, 1: the one that stands out falls on either side half of the time.
        assert!((rank_sum(&[0.0, 0.0], &[0.0, 1.0]).unwrap() - 1.0).abs() < 1e-12);
        assert!(rank_sum(&[], &[1.0]).is_err() && rank_sum(&[1.0; 50], &[1.0; 20]).is_err());
    }

    #[test]
    fn a_lot_is_tested_against_its_own_places() {
        // Only the place where it really rose divides best: 1 of 5.
        let values = [1.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 3.0];
        let found = start_by_lot(&values, 4, 2..=6).unwrap();
        assert!((found.p - 0.2).abs() < 1e-12 && (found.difference - 2.0).abs() < 1e-12);
        // A steady trend: no place stands out as the one that was drawn.
        let trend: Vec<f64> = (0..20).map(f64::from).collect();
        assert!(start_by_lot(&trend, 9, 5..=14).unwrap().p >= 0.9);
        assert!(start_by_lot(&values, 7, 2..=6).is_err());
        assert!(
            start_by_lot(&values, 4, 0..=6).is_err() && start_by_lot(&values, 4, 2..=8).is_err()
        );
    }
}
