//! Is there an effect, by a test that may be looked at after every session: how much better a line with
//! the effect foretells the values than one without, as a bet against "no effect".
//!
//! The bet is the Bayes factor of a normal linear model whose nuisance effects and scatter have their
//! right-Haar prior and whose effect, in units of the scatter, is normal about zero (Lindon, Ham,
//! Tingley & Bojinov 2022, arXiv:2210.08589, for what may be looked at at any time; the factor for one
//! effect is the scale-invariant one of Lai 1976, Ann Stat 4:265). Without an effect it is a martingale
//! that begins at 1, so that it ever reaches `1/a` with a chance of at most `a`, however often one looks
//! (Ville 1939). Neighbours in time are alike: the values follow a first-order autoregression whose
//! strength is averaged over the same prior on both sides. At one fixed strength the bound is then no
//! theorem any more: the bench measures what it is.

use super::{Estimate, Level, StatsError, bad, count, series};

/// Strengths of the autoregression, all as likely: sessions of one animal are alike, rarely less than
/// not at all and rarely more than this (chosen on tuning seeds of the bench).
const STRENGTHS: [f64; 4] = [0.0, 0.15, 0.3, 0.45];
/// What an interval's end is searched within, in units of the standard error.
const REACH: f64 = 1e6;

/// An effect with a bound that may be looked at at any time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnyTime {
    /// The effect per unit of what is tested. Its interval holds the truth at all times together with
    /// the chance asked for; an end that these values cannot give is infinite.
    pub effect: Estimate,
    /// How many times better the values are foretold with the effect than without.
    pub evidence: f64,
    /// 1 over the evidence, at most 1: a p that stays true however often one looks.
    pub p: f64,
}

/// What is tested and what is taken off first.
#[derive(Debug, Clone, Copy)]
pub struct Hypothesis<'a> {
    /// What the effect is proportional to: the times for a slope, 0 and 1 for a step.
    pub of: &'a [f64],
    /// What else is fitted, a constant among it.
    pub beside: &'a [&'a [f64]],
    /// Sizes that are thought of, in units of the scatter, all as likely.
    pub sizes: &'a [f64],
}

/// Sums that one strength of the autoregression leads to.
struct Fitted {
    zz: f64,
    zy: f64,
    yy: f64,
    /// What does not depend on the effect, as a log.
    shared: f64,
}

/// Tests an effect on values in order of time, each with a weight (1 over its relative variance).
///
/// # Errors
/// [`StatsError::TooFew`] when there are not at least two values more than effects;
/// [`StatsError::Bad`] for values that are not finite, or weights not above zero;
/// [`StatsError::Lengths`] when the series differ; [`StatsError::Undefined`] when what is tested is
/// already among what is taken off.
pub fn test(
    y: &[f64],
    weights: &[f64],
    hypothesis: &Hypothesis,
    level: Level,
) -> Result<AnyTime, StatsError> {
    let n = y.len();
    series("values", y, hypothesis.beside.len() + 3)?;
    let lengths =
        hypothesis.beside.iter().map(|x| x.len()).chain([weights.len(), hypothesis.of.len()]);
    if let Some(right) = lengths.into_iter().find(|length| *length != n) {
        return Err(StatsError::Lengths { left: n, right });
    }
    if let Some(w) = weights.iter().find(|w| !(**w > 0.0 && w.is_finite())) {
        return Err(bad("a weight", "above zero", *w));
    }
    let fitted: Vec<Fitted> =
        STRENGTHS.iter().filter_map(|strength| fit(y, weights, hypothesis, *strength)).collect();
    if fitted.len() < STRENGTHS.len() {
        return Err(StatsError::Undefined { why: "what is tested does not vary by itself" });
    }
    let free = (n - hypothesis.beside.len()) as f64;
    let log_evidence = |at: f64| log_evidence(&fitted, hypothesis.sizes, free, at);
    // The estimate: that of each strength, by how likely the strength is.
    let likely: Vec<f64> = fitted
        .iter()
        .map(|f| f.shared - 0.5 * free * (f.yy - f.zy * f.zy / f.zz).max(f.yy * 1e-12).ln())
        .collect();
    let most = likely.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut worth, mut se) = (0.0, 0.0, 0.0_f64);
    for (f, log) in fitted.iter().zip(&likely) {
        let share = (log - most).exp();
        sum += share * f.zy / f.zz;
        worth += share;
        se = se.max((f.yy / free / f.zz).sqrt());
    }
    let point = sum / worth;
    let bound = -(1.0 - level.value()).ln();
    let end = |sign: f64| {
        let (mut inside, mut outside) = (0.0, se);
        while log_evidence(point + sign * outside) < bound {
            (inside, outside) = (outside, 2.0 * outside);
            if outside.is_nan() || outside > REACH * se || outside == 0.0 {
                return sign * f64::INFINITY;
            }
        }
        for _ in 0..60 {
            let middle = f64::midpoint(inside, outside);
            if log_evidence(point + sign * middle) < bound {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        point + sign * outside
    };
    let evidence = log_evidence(0.0).exp();
    Ok(AnyTime {
        effect: Estimate { point, low: end(-1.0), high: end(1.0), n: count(n) },
        evidence,
        p: (1.0 / evidence).min(1.0),
    })
}

/// Log of the evidence against the effect being `at`.
fn log_evidence(fitted: &[Fitted], sizes: &[f64], free: f64, at: f64) -> f64 {
    let mut with = Vec::with_capacity(fitted.len() * sizes.len());
    let mut without = Vec::with_capacity(fitted.len());
    for f in fitted {
        let zy = f.zy - at * f.zz;
        let yy = (f.yy - 2.0 * at * f.zy + at * at * f.zz).max(f.yy * 1e-12);
        let none = f.shared - 0.5 * free * yy.ln();
        without.push(none);
        for size in sizes {
            let ridge = 1.0 / (size * size);
            let left = (1.0 - zy * zy / ((f.zz + ridge) * yy)).max(1e-12);
            with.push(none + 0.5 * (ridge / (ridge + f.zz)).ln() - 0.5 * free * left.ln());
        }
    }
    mean_of_logs(&with) - mean_of_logs(&without)
}

fn mean_of_logs(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| (log - most).exp()).sum();
    most + (sum / logs.len() as f64).ln()
}

/// Weighted, without the autoregression, and with what is taken off taken off; `None` when nothing is
/// left of what is tested.
fn fit(y: &[f64], weights: &[f64], hypothesis: &Hypothesis, strength: f64) -> Option<Fitted> {
    let whiten = |x: &[f64]| -> Vec<f64> {
        let scaled: Vec<f64> = x.iter().zip(weights).map(|(x, w)| x * w.sqrt()).collect();
        let own = (1.0 - strength * strength).sqrt();
        let rest = scaled.windows(2).map(|pair| (pair[1] - strength * pair[0]) / own);
        std::iter::once(scaled[0]).chain(rest).collect()
    };
    let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let mut basis: Vec<Vec<f64>> = Vec::new();
    let without = |mut x: Vec<f64>, basis: &[Vec<f64>]| {
        // Twice: once leaves what rounding made of a near likeness.
        for _ in 0..2 {
            for unit in basis {
                let part = dot(&x, unit);
                x.iter_mut().zip(unit).for_each(|(x, u)| *x -= part * u);
            }
        }
        x
    };
    let mut shared = -0.5 * (y.len() - 1) as f64 * (1.0 - strength * strength).ln();
    for x in hypothesis.beside {
        let whole = whiten(x);
        let size = dot(&whole, &whole).sqrt();
        let left = without(whole, &basis);
        let length = dot(&left, &left).sqrt();
        if length.is_nan() || length <= 1e-9 * size {
            return None;
        }
        shared -= length.ln();
        basis.push(left.into_iter().map(|x| x / length).collect());
    }
    let (whole_z, whole_y) = (whiten(hypothesis.of), whiten(y));
    let (size_z, size_y) = (dot(&whole_z, &whole_z), dot(&whole_y, &whole_y));
    let (z, left) = (without(whole_z, &basis), without(whole_y, &basis));
    let zz = dot(&z, &z);
    if zz.is_nan() || zz <= 1e-12 * size_z {
        return None;
    }
    // Values that do not vary at all have a scatter as small as can be told.
    let yy = dot(&left, &left).max(1e-12 * size_y).max(1e-300);
    Some(Fitted { zz, zy: dot(&z, &left), yy, shared })
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Level = Level::NINETY_FIVE;

    fn slope(y: &[f64]) -> AnyTime {
        let times: Vec<f64> = (0..y.len()).map(|i| i as f64).collect();
        let ones = vec![1.0; y.len()];
        let hypothesis = Hypothesis { of: &times, beside: &[&ones], sizes: &[0.1, 0.3] };
        test(y, &ones, &hypothesis, LEVEL).unwrap()
    }

    #[test]
    fn a_line_is_found_and_its_interval_holds_it() {
        let y: Vec<f64> =
            (0..30).map(|i| 0.3 + 0.02 * f64::from(i) + 0.03 * f64::from(i * 7 % 5 - 2)).collect();
        let found = slope(&y);
        assert!(found.evidence > 20.0 && found.p < 0.05, "{found:?}");
        assert!(found.effect.low > 0.0 && found.effect.high < 0.04, "{found:?}");
        assert!((found.effect.point - 0.02).abs() < 0.003, "{found:?}");
        // The same in other units, and after another constant: nothing but the units changes.
        let other: Vec<f64> = y.iter().map(|y| 50.0 - 100.0 * y).collect();
        let turned = slope(&other);
        assert!((turned.evidence / found.evidence - 1.0).abs() < 1e-6);
        assert!((turned.effect.high + 100.0 * found.effect.low).abs() < 1e-6);
    }

    #[test]
    fn what_says_nothing_has_no_ends() {
        let found = slope(&[0.5, 0.4, 0.6, 0.5]);
        assert!(found.effect.low.is_infinite() && found.effect.high.is_infinite(), "{found:?}");
        assert!(found.p > 0.3, "{found:?}");
        // Nothing varies: no effect, and no reason to think of one.
        let flat = slope(&[0.4; 12]);
        assert!(flat.evidence < 1.0 && flat.effect.point.abs() < 1e-9, "{flat:?}");
    }

    #[test]
    fn what_cannot_be_told_apart_is_refused() {
        let ones = [1.0; 6];
        let hypothesis = Hypothesis { of: &ones, beside: &[&ones], sizes: &[0.3] };
        assert!(test(&[1.0, 2.0, 1.0, 2.0, 1.0, 2.0], &ones, &hypothesis, LEVEL).is_err());
        assert!(test(&[1.0, 2.0], &ones[..2], &hypothesis, LEVEL).is_err());
        assert!(test(&[1.0; 6], &[0.0; 6], &hypothesis, LEVEL).is_err());
    }
}
