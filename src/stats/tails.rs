//! Distribution tails and quantiles on top of statrs, for inputs that callers have checked.
//!
//! statrs' own beta and gamma quantiles stop at an absolute error or can loop in far tails, so the
//! quantiles here are a bracketed Newton iteration on its distribution functions.

use statrs::function::beta::{checked_beta_reg, ln_beta};
use statrs::function::erf::{erfc, erfc_inv};
use statrs::function::factorial::{ln_binomial, ln_factorial};
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur, ln_gamma};
use std::f64::consts::SQRT_2;

/// P(Z <= x) of the standard normal.
pub(crate) fn normal_cdf(x: f64) -> f64 {
    0.5 * erfc(-x / SQRT_2)
}

/// P(|Z| >= |x|) of the standard normal, at most 1.
pub(crate) fn normal_two_sided(x: f64) -> f64 {
    erfc(x.abs() / SQRT_2).min(1.0)
}

/// The standard normal quantile of `p`, strictly between 0 and 1.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    -SQRT_2 * erfc_inv(2.0 * p)
}

/// P(X >= x) of a gamma variable with `shape` and unit scale.
pub(crate) fn gamma_upper(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    checked_gamma_ur(shape, x).map_or(0.0, clamp)
}

/// P(X <= x) of a gamma variable with `shape` and unit scale.
pub(crate) fn gamma_lower(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    checked_gamma_lr(shape, x).map_or(1.0, clamp)
}

/// The quantile of a gamma variable with `shape` and unit scale.
pub(crate) fn gamma_quantile(p: f64, shape: f64) -> f64 {
    // Wilson & Hilferty (1931) start; the bracket reaches past any tail that matters.
    let c = 1.0 / (9.0 * shape);
    let start = shape * (1.0 - c + normal_quantile(p) * c.sqrt()).max(0.05).powi(3);
    let high = shape + 50.0 * (shape.sqrt() + 20.0);
    let log_norm = ln_gamma(shape);
    invert(
        p,
        0.0,
        high,
        start,
        |x| gamma_lower(shape, x),
        |x| ((shape - 1.0) * x.ln() - x - log_norm).exp(),
    )
}

/// P(X <= x) of a beta variable.
pub(crate) fn beta_lower(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if a + b > MOST_OF_STATRS {
        // The fraction converges on the near side of the mean only.
        return clamp(if x > (a + 1.0) / (a + b + 2.0) {
            1.0 - beta_fraction(b, a, 1.0 - x)
        } else {
            beta_fraction(a, b, x)
        });
    }
    checked_beta_reg(a, b, x).map_or(0.0, clamp)
}

/// statrs stops its continued fraction after 140 terms, which is too few near the mean beyond here.
const MOST_OF_STATRS: f64 = 5_000.0;

/// P(X <= x) of a beta variable, x not above its mean: the same continued fraction (Abramowitz &
/// Stegun 26.5.8, by the modified Lentz method), carried on until it stands.
fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    let front = (a * x.ln() + b * (-x).ln_1p() - ln_beta(a, b)).exp() / a;
    let tiny = 1e-300;
    let off_zero = |v: f64| if v.abs() < tiny { tiny } else { v };
    let (mut c, mut d) = (1.0, 1.0 / off_zero(1.0 - (a + b) * x / (a + 1.0)));
    let mut fraction = d;
    for m in 1..100_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let before = fraction;
        for term in [even, odd] {
            d = 1.0 / off_zero(1.0 + term * d);
            c = off_zero(1.0 + term / c);
            fraction *= c * d;
        }
        if (fraction - before).abs() <= 1e-15 * fraction.abs() {
            break;
        }
    }
    front * fraction
}

/// The quantile of a beta variable.
pub(crate) fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let log_norm = ln_beta(a, b);
    invert(
        p,
        0.0,
        1.0,
        a / (a + b),
        |x| beta_lower(a, b, x),
        |x| ((a - 1.0) * x.ln() + (b - 1.0) * (1.0 - x).ln() - log_norm).exp(),
    )
}

/// P(X <= k) of a Poisson variable.
pub(crate) fn poisson_at_most(k: u32, mean: f64) -> f64 {
    gamma_upper(f64::from(k) + 1.0, mean)
}

/// P(X >= k) of a Poisson variable.
pub(crate) fn poisson_at_least(k: u32, mean: f64) -> f64 {
    if k == 0 { 1.0 } else { gamma_lower(f64::from(k), mean) }
}

/// P(X = k) of a Poisson variable.
pub(crate) fn poisson_exactly(k: u32, mean: f64) -> f64 {
    if mean <= 0.0 {
        return if k == 0 { 1.0 } else { 0.0 };
    }
    (f64::from(k) * mean.ln() - mean - ln_factorial(u64::from(k))).exp()
}

/// P(X <= k) in `n` trials with chance `p`; `k` may be `n` or more.
pub(crate) fn binomial_at_most(k: u32, n: u32, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    beta_lower(f64::from(n - k), f64::from(k) + 1.0, 1.0 - p)
}

/// P(X >= k) in `n` trials with chance `p`.
pub fn binomial_at_least(k: u32, n: u32, p: f64) -> f64 {
    if k == 0 {
        return 1.0;
    }
    if k > n {
        return 0.0;
    }
    beta_lower(f64::from(k), f64::from(n - k) + 1.0, p)
}

/// P(X = k) in `n` trials with chance `p`.
pub(crate) fn binomial_exactly(k: u32, n: u32, p: f64) -> f64 {
    if k > n {
        return 0.0;
    }
    let (hits, misses) = (f64::from(k), f64::from(n - k));
    // 0 ln 0 = 0 here: no hit costs nothing when hits are impossible.
    let part = |m: f64, q: f64| if m == 0.0 { 0.0 } else { m * q.ln() };
    (ln_binomial(n.into(), k.into()) + part(hits, p) + part(misses, 1.0 - p)).exp()
}

/// P(X >= x) of a chi-squared variable.
pub(crate) fn chi_squared_upper(x: f64, degrees: f64) -> f64 {
    gamma_upper(degrees / 2.0, x / 2.0)
}

/// The upper quantile of Student's t: P(T >= t) = `tail`, for a tail of at most one half.
pub fn student_upper_quantile(tail: f64, degrees: f64) -> f64 {
    let y = beta_quantile((2.0 * tail).min(1.0), degrees / 2.0, 0.5);
    if y > 0.0 { (degrees * (1.0 - y) / y).sqrt() } else { f64::INFINITY }
}

/// Keeps rounding from leaving the unit interval.
pub(crate) fn clamp(p: f64) -> f64 {
    if p.is_nan() { 0.0 } else { p.clamp(0.0, 1.0) }
}

/// Where a rising function reaches `target`, between `low` and `high`: Newton's step while it
/// stays inside the bracket, halving when it does not.
pub(crate) fn invert(
    target: f64,
    mut low: f64,
    mut high: f64,
    start: f64,
    value: impl Fn(f64) -> f64,
    slope: impl Fn(f64) -> f64,
) -> f64 {
    let mut x = start.clamp(low, high);
    for _ in 0..200 {
        let error = value(x) - target;
        if error == 0.0 {
            return x;
        }
        if error < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x - error / slope(x);
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - x).abs() <= 4.0 * f64::EPSILON * next.abs() {
            return next;
        }
        x = next;
    }
    x
}
