//! A smooth of counts by day: the rate on each day of practice, days near it counting most.
//!
//! Local likelihood (Tibshirani & Hastie 1987, JASA 82:559; Loader 1999, Local Regression and
//! Likelihood, chapter 4): for each day a Poisson regression of its own, log-linear in time, with the
//! tricube weights of Cleveland (1979, JASA 74:829) over [`HALF_WIDTH_DAYS`] on either side. Counts
//! that vary more than Poisson counts widen the interval (Wedderburn 1974, Biometrika 61:439). The
//! width is fixed, so that a week looks the same whatever else is shown.

use super::{Estimate, Level, StatsError, bad, finite, positive};

/// Days on either side that count, ever less (common practice, no source).
pub const HALF_WIDTH_DAYS: f64 = 14.0;
/// With more days in a row without practice, what follows is a stretch of its own: nothing is drawn
/// across such a pause and nothing before it counts after it (common practice, no source).
pub const LONGEST_PAUSE_DAYS: f64 = 3.0;
/// Least days that a smooth rests on: two and a spread.
const LEAST_DAYS: usize = 3;
/// Newton steps, and the change of the log rate at which they end.
const STEPS: u32 = 100;
const CLOSE: f64 = 1e-10;

/// Events counted on one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// The day, counted from any day.
    pub day: f64,
    /// Events.
    pub count: u32,
    /// Time watched, above zero; rates come out per this unit.
    pub exposure: f64,
}

/// The smooth on one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smoothed {
    /// The day.
    pub day: f64,
    /// Rate with its pointwise interval; `n` is the events that counted.
    pub rate: Estimate,
}

/// The smooth of days in order, a list for each stretch without a long pause. A stretch has two days
/// or more; days with too little around them have no place in any.
///
/// # Errors
/// [`StatsError::Bad`] for a day that is not finite or not after the one before it, or an exposure
/// that is not above zero.
pub fn stretches(days: &[Counted], level: Level) -> Result<Vec<Vec<Smoothed>>, StatsError> {
    for pair in days.windows(2) {
        if pair[1].day <= pair[0].day {
            return Err(bad("a day", "after the one before it", pair[1].day));
        }
    }
    for day in days {
        finite("a day", day.day)?;
        positive("the time counted over", day.exposure)?;
    }
    let fits: Vec<Vec<Option<Fit>>> = days
        .chunk_by(|a, b| b.day - a.day <= LONGEST_PAUSE_DAYS + 1.0)
        .map(|stretch| stretch.iter().map(|day| fit(stretch, day)).collect())
        .collect();
    let extra = extra_variation(days, fits.iter().flatten());
    let z = level.z();
    let mut drawn = Vec::new();
    let mut place = 0;
    for fits in fits {
        let mut run = Vec::new();
        for fit in fits {
            let day = days[place].day;
            place += 1;
            match fit.and_then(|fit| fit.rate(z * extra.sqrt())) {
                Some(rate) => run.push(Smoothed { day, rate }),
                None => drawn.push(std::mem::take(&mut run)),
            }
        }
        drawn.push(run);
    }
    drawn.retain(|run| run.len() > 1);
    Ok(drawn)
}

/// A local fit at its own day.
#[derive(Debug, Clone, Copy)]
struct Fit {
    /// Log of the rate.
    log: f64,
    /// Variance of `log` for Poisson counts.
    variance: f64,
    /// How far the fitted value follows the day's own count: its part of the degrees of freedom.
    own: f64,
    /// Events that counted.
    n: u32,
}

impl Fit {
    fn rate(&self, z: f64) -> Option<Estimate> {
        let half = z * self.variance.sqrt();
        let [point, low, high] = [0.0, -half, half].map(|off| (self.log + off).exp());
        let usable = point > 0.0 && high.is_finite() && low <= point;
        usable.then_some(Estimate { point, low, high, n: self.n })
    }
}

/// A day as a local fit sees it: place from -1 to 1, weight, count, exposure.
type Near = (f64, f64, f64, f64);

fn fit(stretch: &[Counted], at: &Counted) -> Option<Fit> {
    let near: Vec<Near> = stretch
        .iter()
        .filter_map(|day| {
            let x = (day.day - at.day) / HALF_WIDTH_DAYS;
            let weight = (1.0 - x.abs().powi(3)).max(0.0).powi(3);
            (weight > 0.0).then_some((x, weight, f64::from(day.count), day.exposure))
        })
        .collect();
    // Two days with events make the regression's answer finite, whatever the others have.
    if near.len() < LEAST_DAYS || near.iter().filter(|day| day.2 > 0.0).count() < 2 {
        return None;
    }
    let (log, slope) = solve(&near)?;
    let (mut bread, mut filling) = ([0.0; 3], [0.0; 3]);
    for &(x, weight, _, exposure) in &near {
        let mean = exposure * (log + slope * x).exp();
        for (power, basis) in [1.0, x, x * x].into_iter().enumerate() {
            bread[power] += weight * mean * basis;
            filling[power] += weight * weight * mean * basis;
        }
    }
    let (a, b) = inverse_row(bread)?;
    let variance = a * a * filling[0] + 2.0 * a * b * filling[1] + b * b * filling[2];
    let own = at.exposure * log.exp() * a;
    let n: f64 = near.iter().map(|day| day.2).sum();
    (variance >= 0.0 && own.is_finite()).then_some(Fit { log, variance, own, n: n as u32 })
}

/// First row of the inverse of the symmetric matrix with these sums of powers.
fn inverse_row([one, x, xx]: [f64; 3]) -> Option<(f64, f64)> {
    let determinant = one * xx - x * x;
    (determinant > 0.0 && determinant.is_finite()).then(|| (xx / determinant, -x / determinant))
}

/// Log rate and slope of greatest local likelihood, by Newton's method with halved steps.
fn solve(near: &[Near]) -> Option<(f64, f64)> {
    let sum = |of: fn(&Near) -> f64| near.iter().map(of).sum::<f64>();
    let mut now = ((sum(|d| d.1 * d.2) / sum(|d| d.1 * d.3)).ln(), 0.0);
    let likelihood = |(log, slope): (f64, f64)| {
        let each = |&(x, weight, count, exposure): &Near| {
            let line = log + slope * x;
            weight * (count * line - exposure * line.exp())
        };
        near.iter().map(each).sum::<f64>()
    };
    let mut best = likelihood(now);
    for _ in 0..STEPS {
        let (mut score, mut bread) = ([0.0; 2], [0.0; 3]);
        for &(x, weight, count, exposure) in near {
            let mean = exposure * (now.0 + now.1 * x).exp();
            let off = weight * (count - mean);
            score = [score[0] + off, score[1] + off * x];
            let each = weight * mean;
            bread = [bread[0] + each, bread[1] + each * x, bread[2] + each * x * x];
        }
        let (a, b) = inverse_row(bread)?;
        let d = bread[0] * a / bread[2];
        let mut step = (a * score[0] + b * score[1], b * score[0] + d * score[1]);
        let small = |step: (f64, f64)| step.0.abs() + step.1.abs() < CLOSE;
        loop {
            let next = (now.0 + step.0, now.1 + step.1);
            let found = likelihood(next);
            if found >= best || small(step) {
                (now, best) = (next, found);
                break;
            }
            step = (step.0 / 2.0, step.1 / 2.0);
            if !step.0.is_finite() {
                return None;
            }
        }
        if small(step) {
            return Some(now);
        }
    }
    None
}

/// Pearson's dispersion of the days around the smooth; never below 1, that of Poisson counts.
fn extra_variation<'a>(days: &[Counted], fits: impl Iterator<Item = &'a Option<Fit>>) -> f64 {
    let (mut squares, mut free) = (0.0, 0.0);
    for (day, fit) in days.iter().zip(fits) {
        let Some(fit) = fit else { continue };
        let mean = day.exposure * fit.log.exp();
        squares += (f64::from(day.count) - mean).powi(2) / mean;
        free += 1.0 - fit.own;
    }
    if free >= 1.0 && squares.is_finite() { (squares / free).max(1.0) } else { 1.0 }
}
