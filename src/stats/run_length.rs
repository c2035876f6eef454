//! Average run lengths of cumulative sums: how long until a false alarm, how soon a true one.

use super::tails::clamp;
use super::{StatsError, bad, finite, positive};

/// Most states a chain may have. The solver is cubic in it in general, but quadratic for sums that
/// rise or fall by small steps, as those of counts and misses do.
pub const MOST_STATES: usize = 1_200;

/// Mean steps to alarm from each state of a sum that moves on a grid and cannot fall below zero:
/// state `i` goes to `max(0, i + D)`, and alarms at `states` or beyond. `at_most(d)` is P(D <= d).
/// Brook & Evans 1972, Biometrika 59:539; exact when the sum really lives on the grid.
///
/// # Errors
/// [`StatsError::Bad`] for no state or more than [`MOST_STATES`]; [`StatsError::Undefined`] when an
/// alarm can never come.
pub fn chain_run_lengths(
    states: usize,
    at_most: impl Fn(i32) -> f64,
) -> Result<Vec<f64>, StatsError> {
    if states == 0 || states > MOST_STATES {
        return Err(bad("the number of states", "from 1 to 1200", states as f64));
    }
    let top = states as i32;
    // All transition chances depend on the difference only.
    let below: Vec<f64> = (-top..=top).map(|d| clamp(at_most(d))).collect();
    let reach = |d: i32| below[(d + top) as usize];
    let mut system = vec![0.0; states * states];
    for i in 0..states {
        for j in 0..states {
            let d = j as i32 - i as i32;
            let chance = if j == 0 { reach(d) } else { reach(d) - reach(d - 1) };
            system[i * states + j] = f64::from(u8::from(i == j)) - chance;
        }
    }
    solve(system, vec![1.0; states]).ok_or(StatsError::Undefined { why: "the alarm never comes" })
}

/// Mean steps to alarm of a continuous one-sided sum from `start`, by the Markov chain of Brook &
/// Evans (1972) with Richardson extrapolation over two grids (their section 2.3 fits in 1/t²).
/// `at_most(x)` is P(step <= x).
///
/// # Errors
/// [`StatsError::Bad`] unless the threshold is above zero and `start` from zero to below it;
/// [`StatsError::Undefined`] when an alarm can never come.
pub fn brook_evans(
    threshold: f64,
    start: f64,
    at_most: impl Fn(f64) -> f64,
) -> Result<f64, StatsError> {
    let h = positive("the threshold", threshold)?;
    let start = head_start(start, h)?;
    let (coarse, fine) = (75_usize, 150_usize);
    let [a, b] = [coarse, fine].map(|t| {
        let width = 2.0 * h / (2.0 * t as f64 - 1.0);
        let lengths = chain_run_lengths(t, |d| at_most((f64::from(d) + 0.5) * width))?;
        // Between grid points the run length is nearly straight.
        let place = (start / width).min(t as f64 - 1.0);
        let (i, part) = (place as usize, place.fract());
        let next = lengths.get(i + 1).copied().unwrap_or(lengths[i]);
        Ok::<f64, StatsError>(lengths[i] * (1.0 - part) + next * part)
    });
    let (a, b) = (a?, b?);
    let ratio = ((2 * fine - 1) as f64 / (2 * coarse - 1) as f64).powi(2);
    let better = b + (b - a) / (ratio - 1.0);
    Ok(if better >= 1.0 && better.is_finite() { better } else { b })
}

/// Mean steps to alarm of `S = max(0, S + X - k)` from zero, alarm at `h`, for exponential X with
/// mean 1: exact. The integral equation of Vardeman & Ray (1985, Technometrics 27:145) becomes a
/// delay equation whose solution is a finite sum; derived here, checked against the Markov chain and
/// simulation. `None` where the alternating sum would lose its digits (h above 22 means).
pub(crate) fn exponential_run_length(k: f64, h: f64) -> Option<f64> {
    if h > 22.0 || h <= 0.0 || k <= 0.0 {
        return None;
    }
    // L(s) = L0 + B(s), with B e^-s = e^-s - 1 - e^-k J(s - k) and J its integral from 0, so
    // L0 = e^h (e^k + J(h)); J(h) = -sum (-1)^j e^-jk R_{j+2}(h - jk), R_m(u) = tail of e^-u.
    let mut integral = 0.0;
    let mut j = 0_i32;
    while h - f64::from(j) * k > 0.0 {
        let u = h - f64::from(j) * k;
        let sign = if j % 2 == 0 { 1.0 } else { -1.0 };
        integral -= sign * (-f64::from(j) * k).exp() * exponential_tail(j + 2, u);
        j += 1;
    }
    let length = h.exp() * (k.exp() + integral);
    (length.is_finite() && length >= 1.0).then_some(length)
}

/// `sum over i >= m of (-1)^(i-m) u^i / i!`, which is `m`-fold the integral of e^-u.
fn exponential_tail(m: i32, u: f64) -> f64 {
    let first = (1..=m).fold(1.0, |term, i| term * u / f64::from(i));
    let (mut term, mut sum, mut i) = (first, 0.0, m);
    loop {
        sum += term;
        i += 1;
        term *= -u / f64::from(i);
        if term.abs() <= 1e-18 * sum.abs() && f64::from(i) > u || i > 1000 {
            return sum;
        }
    }
}

/// The lowest threshold whose run length reaches `wanted`, for a run length that rises with it.
pub(crate) fn threshold_for(
    wanted: f64,
    unit: f64,
    run_length: impl Fn(f64) -> Result<f64, StatsError>,
) -> Result<f64, StatsError> {
    let wanted = finite("the wanted run length", wanted)?;
    if wanted < 1.0 {
        return Err(bad("the wanted run length", "at least 1", wanted));
    }
    // The log of the run length is nearly straight in the threshold: false position on it, with
    // the Illinois halving of a side that stays.
    let excess = |h: f64| Ok::<f64, StatsError>((run_length(h)? / wanted).ln());
    let (mut low, mut at_low) = (0.0, -wanted.ln().max(1e-9));
    let (mut high, mut at_high) = (unit, excess(unit)?);
    for _ in 0..20 {
        if at_high >= 0.0 {
            break;
        }
        (low, at_low) = (high, at_high);
        high *= 2.0;
        at_high = excess(high)?;
    }
    if at_high < 0.0 {
        return Err(StatsError::Undefined { why: "no threshold has so long a run" });
    }
    let mut stayed = 0;
    for _ in 0..100 {
        if at_high < 1e-9 || high - low <= 1e-10 * high {
            break;
        }
        let middle = low + (high - low) * (-at_low / (at_high - at_low));
        let at_middle = excess(middle)?;
        if at_middle >= 0.0 {
            (high, at_high) = (middle, at_middle);
            at_low *= if stayed == 1 { 0.5 } else { 1.0 };
            stayed = 1;
        } else {
            (low, at_low) = (middle, at_middle);
            at_high *= if stayed == -1 { 0.5 } else { 1.0 };
            stayed = -1;
        }
    }
    Ok(high)
}

/// The lowest whole number of grid steps whose run length reaches `wanted`.
pub(crate) fn grid_threshold_for(
    wanted: f64,
    run_length: impl Fn(usize) -> Result<f64, StatsError>,
) -> Result<usize, StatsError> {
    let wanted = finite("the wanted run length", wanted)?;
    if wanted < 1.0 {
        return Err(bad("the wanted run length", "at least 1", wanted));
    }
    let (mut low, mut high) = (0, 1);
    while run_length(high)? < wanted {
        if high == MOST_STATES {
            return Err(StatsError::Undefined {
                why: "no threshold on this grid has so long a run",
            });
        }
        low = high;
        high = (high * 2).min(MOST_STATES);
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if run_length(middle)? < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(high)
}

pub(crate) fn head_start(start: f64, threshold: f64) -> Result<f64, StatsError> {
    if (0.0..threshold).contains(&start) {
        Ok(start)
    } else {
        Err(bad("the head start", "from zero to below the threshold", start))
    }
}

/// Solves for the run lengths of a chain: `a` is I - Q row by row, `b` all ones. Gaussian
/// elimination without pivoting, which is safe as the diagonal outweighs the row; steps that the
/// chain cannot take cost nothing. `None` when the alarm cannot be reached to working precision.
pub(crate) fn solve(mut a: Vec<f64>, mut b: Vec<f64>) -> Option<Vec<f64>> {
    let n = b.len();
    for column in 0..n {
        let (done, rest) = a.split_at_mut((column + 1) * n);
        let row = &done[column * n..];
        if row[column] < 1e-14 {
            return None;
        }
        let end = row.iter().rposition(|x| *x != 0.0)? + 1;
        for (i, other) in rest.chunks_exact_mut(n).enumerate() {
            let factor = other[column] / row[column];
            if factor != 0.0 {
                for (x, pivot) in other[column..end].iter_mut().zip(&row[column..end]) {
                    *x -= factor * pivot;
                }
                b[column + 1 + i] -= factor * b[column];
            }
        }
    }
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| a[i * n + j] * b[j]).sum();
        b[i] = (b[i] - known) / a[i * n + i];
    }
    b.iter().all(|x| x.is_finite() && *x >= 1.0 - 1e-9).then_some(b)
}
