//! Exponentially weighted moving averages with control limits, and the individuals chart.

use super::run_length::solve;
use super::tails::normal_cdf;
use super::{StatsError, bad, finite, measurable, positive, series};

/// Which way an average must leave its limits to alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Either way.
    Both,
    /// Upwards only; the average is not let below the mean, so that good times build no inertia.
    Upper,
}

/// An exponentially weighted moving average with limits `mean ± width · sd · sqrt(...)` (Roberts
/// 1959, Technometrics 1:239; limits as in Montgomery, section 9.2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    lambda: f64,
    mean: f64,
    sd: f64,
    width: f64,
    side: Side,
    value: f64,
    n: u32,
}

impl Ewma {
    /// `lambda` is the weight of the newest value, above 0 and at most 1; `width` the limits in
    /// standard deviations of the average.
    ///
    /// # Errors
    /// [`StatsError::Bad`] for a weight outside that, or a width or sd that is not above zero.
    pub fn new(
        lambda: f64,
        mean: f64,
        sd: f64,
        width: f64,
        side: Side,
    ) -> Result<Self, StatsError> {
        let lambda = weight(lambda)?;
        let mean = finite("the mean", mean)?;
        let (sd, width) = (positive("the sd", sd)?, positive("the width", width)?);
        Ok(Ewma { lambda, mean, sd, width, side, value: mean, n: 0 })
    }

    /// Adds a value and returns whether the average lies outside its limits of this moment. A value
    /// that is not finite changes nothing.
    pub fn add(&mut self, x: f64) -> bool {
        if measurable(x) {
            self.value += self.lambda * (x - self.value);
            if self.side == Side::Upper {
                self.value = self.value.max(self.mean);
            }
            self.n = self.n.saturating_add(1);
        }
        let off = self.value - self.mean;
        let off = if self.side == Side::Both { off.abs() } else { off };
        self.n > 0 && off > self.half_width()
    }

    /// The average now.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Half the distance between the limits after the values so far: they widen to
    /// [`Self::steady_half_width`].
    pub fn half_width(&self) -> f64 {
        let fading = (1.0 - self.lambda).powi(self.n.min(100_000) as i32);
        self.steady_half_width() * (1.0 - fading * fading).sqrt()
    }

    /// Half the distance between the limits in the long run.
    pub fn steady_half_width(&self) -> f64 {
        self.width * self.sd * (self.lambda / (2.0 - self.lambda)).sqrt()
    }

    /// Back to the mean.
    pub fn reset(&mut self) {
        (self.value, self.n) = (self.mean, 0);
    }
}

/// Mean number of normal values to an alarm of an average with steady limits, when the true mean
/// lies `offset` standard deviations off: Markov chain (Lucas & Saccucci 1990, Technometrics 32:1)
/// with Richardson extrapolation. For [`Side::Upper`] with reflection at the mean.
///
/// # Errors
/// [`StatsError::Bad`] for a weight or width that cannot be; [`StatsError::Undefined`] when an
/// alarm practically never comes.
pub fn run_length(lambda: f64, width: f64, side: Side, offset: f64) -> Result<f64, StatsError> {
    let (lambda, width) = (weight(lambda)?, positive("the width", width)?);
    let offset = finite("the offset", offset)?;
    let limit = width * (lambda / (2.0 - lambda)).sqrt();
    let grid = |cells: usize| match side {
        Side::Both => chain(lambda, -limit, limit, false, offset, cells),
        Side::Upper => chain(lambda, 0.0, limit, true, offset, cells),
    };
    let (coarse, fine) = (grid(101)?, grid(201)?);
    let better = fine + (fine - coarse) / ((201.0_f64 / 101.0).powi(2) - 1.0);
    Ok(if better >= 1.0 && better.is_finite() { better } else { fine })
}

/// One chain with `cells` equal cells from `low` to `high`, started at zero. When reflecting, all
/// that falls below `low` counts as `low`.
fn chain(
    lambda: f64,
    low: f64,
    high: f64,
    reflecting: bool,
    offset: f64,
    cells: usize,
) -> Result<f64, StatsError> {
    // Reflecting: cell 0 is a half cell at the border, as in the chain of a cumulative sum.
    let width = (high - low) / if reflecting { cells as f64 - 0.5 } else { cells as f64 };
    let shift = if reflecting { 0.0 } else { 0.5 };
    let centre = |i: usize| low + (i as f64 + shift) * width;
    let mut system = vec![0.0; cells * cells];
    for i in 0..cells {
        let below = |edge: f64| normal_cdf((edge - (1.0 - lambda) * centre(i)) / lambda - offset);
        let mut reached = if reflecting { 0.0 } else { below(low) };
        for j in 0..cells {
            let next = below(centre(j) + 0.5 * width);
            system[i * cells + j] = f64::from(u8::from(i == j)) - (next - reached);
            reached = next;
        }
    }
    let lengths = solve(system, vec![1.0; cells])
        .ok_or(StatsError::Undefined { why: "the alarm never comes" })?;
    Ok(if reflecting { lengths[0] } else { lengths[cells / 2] })
}

fn weight(lambda: f64) -> Result<f64, StatsError> {
    if lambda > 0.0 && lambda <= 1.0 {
        Ok(lambda)
    } else {
        Err(bad("the weight of the newest value", "above 0 and at most 1", lambda))
    }
}

/// Centre and 3-sigma limits of single values, with sigma from the mean moving range of two
/// (NIST/SEMATECH e-Handbook 6.3.2.2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// The mean.
    pub centre: f64,
    /// The mean of the differences between neighbours, without sign.
    pub mean_range: f64,
    /// The mean range over 1.128.
    pub sigma: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// The chart of `x`, in the order in which it was observed.
///
/// # Errors
/// [`StatsError::TooFew`] below two values; [`StatsError::Undefined`] when all are equal.
pub fn individuals(x: &[f64]) -> Result<Individuals, StatsError> {
    series("values", x, 2)?;
    let centre = x.iter().sum::<f64>() / x.len() as f64;
    let ranges: f64 = x.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum();
    let mean_range = ranges / (x.len() - 1) as f64;
    if mean_range <= 0.0 {
        return Err(StatsError::Undefined { why: "no chart: sigma is zero" });
    }
    // 1.128 is d2, the mean range of two normal values with sd 1, rounded as the handbook has it.
    let sigma = mean_range / 1.128;
    Ok(Individuals {
        centre,
        mean_range,
        sigma,
        low: centre - 3.0 * sigma,
        high: centre + 3.0 * sigma,
    })
}
