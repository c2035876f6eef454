//! Two samples compared by ranks (Mann & Whitney 1947, Ann Math Stat 18:50).

use super::tails::normal_cdf;
use super::{StatsError, series};

/// The Mann–Whitney test of two samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannWhitney {
    /// Pairs in which the first sample is higher, ties counted half.
    pub u: f64,
    /// One-sided: the first sample is higher.
    pub p_greater: f64,
    /// One-sided: the first sample is lower.
    pub p_less: f64,
    /// Two-sided: twice the smaller, at most 1.
    pub p_two_sided: f64,
    /// Whether the p values are exact; else normal with ties and continuity corrected.
    pub exact: bool,
}

/// Compares two samples; exact without ties and up to 2 500 pairs.
///
/// # Errors
/// [`StatsError::TooFew`] when a sample is empty; [`StatsError::Bad`] for values not finite.
pub fn mann_whitney(first: &[f64], second: &[f64]) -> Result<MannWhitney, StatsError> {
    series("values", first, 1)?;
    series("values", second, 1)?;
    let (m, n) = (first.len(), second.len());
    let mut all: Vec<(f64, bool)> = first.iter().map(|&x| (x, true)).collect();
    all.extend(second.iter().map(|&x| (x, false)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut twice_u, mut below, mut ties) = (0_u64, 0_u64, 0.0);
    for group in all.chunk_by(|a, b| a.0 == b.0) {
        let ours = group.iter().filter(|x| x.1).count() as u64;
        let theirs = group.len() as u64 - ours;
        twice_u += ours * (2 * below + theirs);
        below += theirs;
        ties += (group.len() as f64).powi(3) - group.len() as f64;
    }
    let u = twice_u as f64 / 2.0;
    let exact = ties == 0.0 && m * n <= 2_500;
    let (p_greater, p_less) = if exact {
        let ways = arrangements(m, n);
        let total: f64 = ways.iter().sum();
        let at = (twice_u / 2) as usize;
        let up: f64 = ways[at..].iter().sum();
        let down: f64 = ways[..=at].iter().sum();
        (up / total, down / total)
    } else {
        let (pairs, size) = ((m * n) as f64, (m + n) as f64);
        let var = pairs / 12.0 * ((size + 1.0) - ties / (size * (size - 1.0)));
        if var <= 0.0 {
            (1.0, 1.0)
        } else {
            let off = u - pairs / 2.0;
            let tail = |d: f64| normal_cdf(-(d - 0.5) / var.sqrt());
            (tail(off), tail(-off))
        }
    };
    let p_two_sided = (2.0 * p_greater.min(p_less)).min(1.0);
    Ok(MannWhitney { u, p_greater, p_less, p_two_sided, exact })
}

/// In how many orders of `m` and `n` values each U comes out: coefficients of the Gaussian binomial.
fn arrangements(m: usize, n: usize) -> Vec<f64> {
    let most = m * n;
    let mut ways = vec![0.0; most + 1];
    ways[0] = 1.0;
    // Multiply by (1 - q^(n+i)) and divide by (1 - q^i), for i = 1..=m.
    for i in 1..=m {
        for q in (n + i..=most).rev() {
            ways[q] -= ways[q - n - i];
        }
        for q in i..=most {
            ways[q] += ways[q - i];
        }
    }
    ways
}
